"""Two processes that save into one folder at the same time: the files of one of them, whole."""

from __future__ import annotations

import subprocess
import sys
import time
from collections import Counter
from pathlib import Path

import pytest

from fishdown.atomic_write import UNFINISHED
from fishdown.errors import FitError
from fishdown.posterior.manifest import verified

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(sys.platform == "win32", reason="folders are locked by POSIX"),
]
ROUNDS, SECONDS = 200, 0.1
NAMES = tuple("abcdefgh")
# Both end with the same moment, so that the last files of both take their places side by side.
SAVING = """
import sys, time
from fishdown.atomic_write import all_or_none
from fishdown.posterior.manifest import write_manifest
folder, content, *names = sys.argv[1:]
print("ready", flush=True)
for line in sys.stdin:
    while time.time() < float(line):
        with all_or_none(folder, make=True) as staged:
            for name in names:
                (staged / name).write_text(content)
            write_manifest(staged)
    print("done", flush=True)
"""


def test_one_folder(tmp_path: Path) -> None:
    out = tmp_path / "out"
    both = [
        subprocess.Popen(
            [sys.executable, "-c", SAVING, str(out), content, *NAMES],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
            bufsize=1,
        )
        for content in ("one", "other")
    ]

    def all_say(word: str) -> None:
        for process in both:
            assert process.stdout is not None
            assert process.stdout.readline() == f"{word}\n"

    counts: Counter[str] = Counter()
    all_say("ready")
    for _ in range(ROUNDS):
        ends = time.time() + SECONDS
        for process in both:
            assert process.stdin is not None
            process.stdin.write(f"{ends}\n")
        all_say("done")
        try:
            counts[verified(out, NAMES, "a").decode()] += 1
        except FitError:
            counts["mixed"] += 1
    for process in both:
        process.communicate()
        assert process.returncode == 0
    print(f"{ROUNDS} rounds: {dict(counts)}")
    assert counts.total() == ROUNDS
    assert counts["mixed"] == 0
    assert not list(out.glob(f"{UNFINISHED}*"))
