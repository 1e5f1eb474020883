"""Processes that are killed while they fit and save: the folder holds one fit or says that not."""

from __future__ import annotations

import random
import signal
import subprocess
import sys
import time
from collections import Counter
from pathlib import Path

import pytest
from drawn_fits import drawn_fit, records

import fishdown

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(sys.platform == "win32", reason="kills by a signal"),
]
KILLS = 50
# Saves two fits in turn; what their files hold is worked out before, to be killed while writing.
SAVING = """
import itertools, sys
import fishdown
from fishdown.api import files
fits = [fishdown.load(folder) for folder in sys.argv[2:]]
contents = {id(fit): files._contents(fit, fit.checks(), despite_gate=False) for fit in fits}
files._contents = lambda fit, checks, despite_gate: contents[id(fit)]
print("ready", flush=True)
for fit in itertools.cycle(fits):
    fit.save(sys.argv[1])
"""


def found(folder: Path) -> str:
    try:
        return str(fishdown.load(folder).run["title"])
    except fishdown.FishdownError as error:
        said = str(error)
    assert "is of another fit" in said or "is missing" in said
    return "refused"


def test_while_it_saves(tmp_path: Path) -> None:
    fit = drawn_fit(records(tmp_path / "r"), "one_lake")
    for title in ("one", "other"):
        fishdown.Fit(fit.campaign, fit.spec, fit.tree, {**fit.run, "title": title}).save(
            tmp_path / title
        )
    out, folders = tmp_path / "out", [str(tmp_path / title) for title in ("one", "other")]
    counts: Counter[str] = Counter()
    drafts = 0
    moments = random.Random(20)
    for _ in range(KILLS):
        process = subprocess.Popen(
            [sys.executable, "-c", SAVING, str(out), *folders], stdout=subprocess.PIPE, text=True
        )
        assert process.stdout is not None
        assert process.stdout.readline() == "ready\n"
        time.sleep(moments.uniform(0.05, 0.5))
        process.kill()
        process.communicate()
        counts[found(out)] += 1
        drafts += bool(list(out.glob(".unfinished-*")))
    print(f"{KILLS} kills: {dict(counts)}; {drafts} left a draft")
    assert counts.total() == KILLS
    fit.save(out)
    assert not list(out.glob(".unfinished-*"))
    assert found(out) == fit.run["title"]


def test_a_whole_command(tmp_path: Path) -> None:
    """Killed at any moment from its start to its end, over the results of another seed."""
    folder = records(tmp_path / "r")
    out = tmp_path / "out"
    command = [sys.executable, "-m", "fishdown.cli", "fit", str(folder), "--out", str(out)]
    command += ["--model", "one_lake", "--draws", "50", "--tune", "100", "--chains", "2"]
    subprocess.run([*command, "--seed", "1"], capture_output=True, check=False)
    started = time.monotonic()
    subprocess.run([*command, "--seed", "2"], capture_output=True, check=False)
    lasts = time.monotonic() - started
    assert fishdown.load(out).run["seed"] == 2
    counts: Counter[str] = Counter()
    moments = random.Random(21)
    for kill in range(KILLS):
        process = subprocess.Popen(
            [*command, "--seed", str(3 + kill)],
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        before = fishdown.load(out).run["seed"]
        # Most of the time goes into imports and compiling; half of the kills come near the end.
        time.sleep(moments.uniform(0.8 if kill % 2 else 0.0, 1.05) * lasts)
        process.send_signal(signal.SIGKILL)
        process.wait()
        said = found(out)
        seed = fishdown.load(out).run["seed"] if said != "refused" else None
        assert seed in {before, 3 + kill, None}
        counts["refused" if seed is None else "old" if seed == before else "new"] += 1
        if seed is None:
            subprocess.run([*command, "--seed", "1"], capture_output=True, check=False)
    print(f"{KILLS} kills: {dict(counts)}; a whole run lasts {lasts:.1f} s")
    assert counts.total() == KILLS
