"""The finder of a Python, which any ordinary Python 3 must be able to run."""

from __future__ import annotations

import ast
import importlib.util
import os
import subprocess
import sys
from pathlib import Path
from types import ModuleType

import pytest

ROOT = Path(__file__).parent.parent
SCRIPTS = [".ci/environment.py", "tests/run.py", "demo/run.py"]


@pytest.fixture
def environment(monkeypatch: pytest.MonkeyPatch) -> ModuleType:
    monkeypatch.setattr(sys, "dont_write_bytecode", True)
    monkeypatch.delenv("FISHDOWN_PYTHON", raising=False)
    spec = importlib.util.spec_from_file_location("environment", ROOT / ".ci" / "environment.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def shim(folder: Path, name: str, *lines: str) -> Path:
    """Put a program of the shell where a Python is looked for."""
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / name
    path.write_text("\n".join(["#!/bin/sh", *lines, ""]), encoding="utf-8")
    path.chmod(0o755)
    return path


@pytest.mark.parametrize("script", SCRIPTS)
def test_an_old_python_can_read_it(script: str) -> None:
    text = (ROOT / script).read_text(encoding="utf-8")
    ast.parse(text, feature_version=(3, 6))
    # Syntax is half of it: only modules that every Python 3 brings along may be imported.
    imported = {
        name.name if isinstance(node, ast.Import) else node.module
        for node in ast.walk(ast.parse(text))
        if isinstance(node, ast.Import | ast.ImportFrom)
        for name in node.names
    }
    assert imported <= {"glob", "hashlib", "os", "subprocess", "sys", "environment"}


def versions(
    environment: ModuleType, monkeypatch: pytest.MonkeyPatch, known: dict[str, tuple[int, int]]
) -> None:
    monkeypatch.setattr(environment, "_candidates", lambda: iter(known))
    monkeypatch.setattr(environment, "_version", known.get)


@pytest.mark.parametrize(
    ("known", "chosen"),
    [
        ({"old": (3, 11), "first": (3, 13), "second": (3, 12)}, "first"),
        ({"very old": (2, 7), "just": (3, 12)}, "just"),
        ({"absent": None, "new": (3, 15)}, "new"),
    ],
)
def test_the_first_that_is_new_enough(
    environment: ModuleType,
    monkeypatch: pytest.MonkeyPatch,
    known: dict[str, tuple[int, int]],
    chosen: str,
) -> None:
    versions(environment, monkeypatch, known)
    assert environment.find_python() == chosen


def test_advice_when_there_is_none(
    environment: ModuleType, monkeypatch: pytest.MonkeyPatch
) -> None:
    versions(environment, monkeypatch, {"python3.11": (3, 11), "python": (2, 7)})
    with pytest.raises(SystemExit) as stopped:
        environment.find_python()
    advice = str(stopped.value)
    assert advice.startswith("fishdown needs Python 3.12 or newer")
    assert "Looked at: python3.11, python." in advice
    assert "FISHDOWN_PYTHON=" in advice


def test_a_named_interpreter_is_the_only_candidate(
    environment: ModuleType, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("FISHDOWN_PYTHON", sys.executable)
    assert list(environment._candidates()) == [sys.executable]
    assert environment.find_python() == sys.executable
    monkeypatch.setenv("FISHDOWN_PYTHON", "/no/such/python")
    with pytest.raises(SystemExit, match="Looked at: /no/such/python"):
        environment.find_python()


def test_version_of_this_python(environment: ModuleType) -> None:
    assert environment._version(sys.executable) == sys.version_info[:2]


def test_what_cannot_be_run_has_no_version(environment: ModuleType, tmp_path: Path) -> None:
    not_a_program = tmp_path / "text"
    not_a_program.write_text("hello", encoding="utf-8")
    for python in (
        str(tmp_path / "absent"),
        str(not_a_program),
        str(tmp_path),
        str(shim(tmp_path, "fails", "echo 3 13", "exit 127")),
        str(shim(tmp_path, "chatters", "echo pyenv: command not found")),
        str(shim(tmp_path, "silent", "exit 0")),
    ):
        assert environment._version(python) is None, python


@pytest.fixture
def bare_path(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Leave nothing on PATH but broken shims, and no pyenv at home."""
    programs = tmp_path / "bin"
    broken = ("echo 'pyenv: this command is not known' >&2", "exit 127")
    for name in ("python", "python3", "python3.12", "python3.13", "python3.14", "python3.15"):
        shim(programs, name, *broken)
    monkeypatch.setenv("PATH", str(programs))
    monkeypatch.setenv("HOME", str(tmp_path / "home"))
    monkeypatch.delenv("PYENV_ROOT", raising=False)
    return programs


def test_broken_shims_are_passed_over(environment: ModuleType, bare_path: Path) -> None:
    # All names on PATH fail; the interpreter that runs this remains.
    assert environment.find_python() == sys.executable


def test_a_version_folder_behind_broken_shims(
    environment: ModuleType, bare_path: Path, tmp_path: Path
) -> None:
    inside = tmp_path / "home" / ".pyenv" / "versions" / "3.13.7" / "bin"
    inside.mkdir(parents=True)
    (inside / "python").symlink_to(sys.executable)
    assert environment.find_python() == str(inside / "python")


def test_a_script_stops_with_advice_and_no_traceback(bare_path: Path) -> None:
    """As an old Python would run it, on a machine without a newer one."""
    code = (
        "import sys; sys.path.insert(0, '.ci'); sys.dont_write_bytecode = True\n"
        "import environment; environment.sys.executable = 'python3'\n"
        "environment.find_python()"
    )
    done = subprocess.run(
        [sys.executable, "-c", code],
        cwd=ROOT,
        env={**os.environ},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 1
    assert "fishdown needs Python 3.12 or newer" in done.stderr
    assert "Traceback" not in done.stderr


def test_an_environment_that_is_ready_is_kept(
    environment: ModuleType, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    venv = tmp_path / "venv"
    monkeypatch.setattr(environment, "VENV", str(venv))
    monkeypatch.setattr(environment, "STAMP", str(venv / "ready"))
    ran: list[list[str]] = []
    monkeypatch.setattr(environment, "_run", lambda arguments, what: ran.append(arguments))
    monkeypatch.setattr(environment, "find_python", lambda: "python-of-choice")
    python = shim(venv / "bin", "python")
    assert environment.ready() == str(python)
    assert ran[0] == ["python-of-choice", "-m", "venv", "--clear", str(venv)]
    assert len(ran) == 3
    ran.clear()
    assert environment.ready() == str(python)
    assert ran == []
    (venv / "ready").write_text("of an older pyproject.toml", encoding="utf-8")
    environment.ready()
    assert len(ran) == 3


def test_a_step_that_fails_stops_with_its_name(environment: ModuleType) -> None:
    with pytest.raises(SystemExit, match=r"making tea failed \(exit 3\)"):
        environment._run([sys.executable, "-c", "raise SystemExit(3)"], "making tea")
