"""Run all tests; make the environment first if there is none.

    python3 tests/run.py [pytest's own options]
"""

import os
import subprocess
import sys

ROOT = os.path.dirname(os.path.dirname(os.path.abspath(__file__)))
sys.path.insert(0, os.path.join(ROOT, ".ci"))
sys.dont_write_bytecode = True

import environment  # noqa: E402

if __name__ == "__main__":
    python = environment.ready()
    sys.exit(subprocess.run([python, "-m", "pytest"] + sys.argv[1:], cwd=ROOT).returncode)
