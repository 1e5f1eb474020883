"""Find a Python new enough for fishdown and keep a ready .venv at the root of the checkout.

Written for any ordinary Python 3, with no packages: it only has to find a newer one.
"""

import glob
import hashlib
import os
import subprocess
import sys

ROOT = os.path.dirname(os.path.dirname(os.path.abspath(__file__)))
VENV = os.path.join(ROOT, ".venv")
STAMP = os.path.join(VENV, "fishdown-ready")
CONSTRAINTS = os.path.join(ROOT, ".ci", "constraints.txt")
OLDEST = (3, 12)
# The pinned packages are tried on these; a newer Python may have no wheels yet.
PREFERRED = ["3.13", "3.12", "3.14", "3.15"]

ADVICE = """\
fishdown needs Python {oldest} or newer, with its venv module, and found none.
Looked at: {looked}.
Any one of these mends it; then run the same command again:
  - install Python 3.13 from your system's packages (on Debian and Ubuntu:
    python3 and python3-venv of a recent release) or from python.org;
  - with pyenv: pyenv install 3.13
  - or name an interpreter yourself: FISHDOWN_PYTHON=/path/to/python3.13
"""


def _version(python):
    """Return (major, minor) of an interpreter that can make environments, else None."""
    code = "import sys, venv, ensurepip; print('%d %d' % sys.version_info[:2])"
    try:
        done = subprocess.run(
            [python, "-c", code], stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, check=False
        )
    except OSError:
        return None
    words = done.stdout.decode("ascii", "replace").split()
    if done.returncode != 0 or len(words) != 2:
        return None
    return int(words[0]), int(words[1])


def _candidates():
    named = os.environ.get("FISHDOWN_PYTHON")
    if named:
        yield named
        return
    pyenv = os.environ.get("PYENV_ROOT") or os.path.join(os.path.expanduser("~"), ".pyenv")
    for version in PREFERRED:
        yield "python" + version
        for folder in sorted(glob.glob(os.path.join(pyenv, "versions", version + "*"))):
            yield os.path.join(folder, "bin", "python")
    yield sys.executable
    yield "python3"
    yield "python"


def find_python():
    """Return the path of an interpreter that is new enough, or stop with advice."""
    looked = []
    for python in _candidates():
        version = _version(python)
        if version is not None and version >= OLDEST:
            return python
        looked.append(python)
    oldest = ".".join(str(part) for part in OLDEST)
    sys.exit(ADVICE.format(oldest=oldest, looked=", ".join(dict.fromkeys(looked))))


def venv_program(name):
    """Return the path of a program inside .venv."""
    if os.name == "nt":
        return os.path.join(VENV, "Scripts", name + ".exe")
    return os.path.join(VENV, "bin", name)


def _wanted():
    digest = hashlib.sha256()
    for path in (os.path.join(ROOT, "pyproject.toml"), CONSTRAINTS, os.path.abspath(__file__)):
        with open(path, "rb") as file:
            digest.update(file.read())
    digest.update(ROOT.encode("utf-8"))
    return digest.hexdigest()


def _run(arguments, what):
    done = subprocess.run(arguments, cwd=ROOT, check=False)
    if done.returncode != 0:
        sys.exit("fishdown: %s failed (exit %d); see the lines above." % (what, done.returncode))


def ready():
    """Make .venv, or keep the one that is up to date; return its Python."""
    python = venv_program("python")
    wanted = _wanted()
    if os.path.exists(STAMP) and os.path.exists(python):
        with open(STAMP) as file:
            if file.read() == wanted:
                return python
    base = find_python()
    print("Setting up .venv with %s (once; a minute or two) ..." % base, flush=True)
    _run([base, "-m", "venv", "--clear", VENV], "making the environment")
    pip = [python, "-m", "pip", "install", "--quiet", "--disable-pip-version-check"]
    _run(pip + ["-c", CONSTRAINTS, "hatchling", "editables"], "installing the build tool")
    _run(
        pip + ["-c", CONSTRAINTS, "--no-build-isolation", "-e", ".[dev]"],
        "installing fishdown and its packages",
    )
    with open(STAMP, "w") as file:
        file.write(wanted)
    return python
