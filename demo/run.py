"""Run the main job on the demo's records; make the environment first if there is none.

    python3 demo/run.py [options of fishdown demo]
"""

import os
import subprocess
import sys

ROOT = os.path.dirname(os.path.dirname(os.path.abspath(__file__)))
sys.path.insert(0, os.path.join(ROOT, ".ci"))
sys.dont_write_bytecode = True

import environment  # noqa: E402

if __name__ == "__main__":
    environment.ready()
    out = os.path.join("demo", "out")
    command = [environment.venv_program("fishdown"), "demo", "--out", out] + sys.argv[1:]
    sys.exit(subprocess.run(command, cwd=ROOT).returncode)
