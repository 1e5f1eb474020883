"""Run the tests on all cores; make the environment first if there is none.

    python3 tests/run.py [pytest's own options]

With -n 0 they run in one process.
"""

import os
import subprocess
import sys

ROOT = os.path.dirname(os.path.dirname(os.path.abspath(__file__)))
sys.path.insert(0, os.path.join(ROOT, ".ci"))
sys.dont_write_bytecode = True

import environment  # noqa: E402

# One process a core; the tests of a file, which share its fits, in one of them, and the files
# in the order of tests/tiers.py.
SHARED_OUT = ["-n", "auto", "--dist", "loadfile", "--no-loadscope-reorder"]
# Each of them computes on one core only, if nobody wants it otherwise.
THREADS = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "NUMBA_NUM_THREADS")

if __name__ == "__main__":
    python = environment.ready()
    for name in THREADS:
        os.environ.setdefault(name, "1")
    command = [python, "-m", "pytest"] + SHARED_OUT + sys.argv[1:]
    sys.exit(subprocess.run(command, cwd=ROOT).returncode)
