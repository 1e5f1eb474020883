"""Ctrl-C once and twice, at work in Python, in machine code, and in what does not listen."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import pytest

from fishdown.demo import demo_folder
from fishdown.terminal.stopping import stoppable

pytestmark = [
    pytest.mark.skipif(os.name != "posix", reason="signals of POSIX"),
    pytest.mark.usefixtures("ctrl_c"),
]

START = """
import hashlib, signal, sys, time
from fishdown.terminal.stopping import stoppable
with stoppable(lambda: "stopped") as stop:
    try:
        print("at work", flush=True)
        WORK
    except KeyboardInterrupt:
        stop.tell()
        sys.exit(stop.code)
"""
# Each lasts for ten minutes.
WORK = {
    "python": "[time.sleep(0.01) for _ in range(60_000)]",
    "machine code": "hashlib.pbkdf2_hmac('sha512', b'', b'', 600_000_000)",
    "deaf": "time.sleep(600)\n    except BaseException:\n        time.sleep(600)\n    try: pass",
}


def said_at_the_end(process: subprocess.Popen[str]) -> str:
    """Return what was said on standard error; end a process that does not end by itself."""
    try:
        return process.communicate(timeout=60)[1]
    finally:
        process.kill()


def started(work: str) -> subprocess.Popen[str]:
    process = subprocess.Popen(
        [sys.executable, "-c", START.replace("WORK", WORK[work])],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    assert process.stdout is not None
    assert process.stdout.readline() == "at work\n"
    return process


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
@pytest.mark.parametrize("work", WORK)
def test_once(work: str, number: int) -> None:
    process = started(work)
    process.send_signal(number)
    said = said_at_the_end(process)
    assert process.returncode == 128 + number
    assert said == "stopped\n"


@pytest.mark.parametrize("work", WORK)
def test_twice(work: str) -> None:
    process = started(work)
    process.send_signal(signal.SIGINT)
    time.sleep(0.05)
    process.send_signal(signal.SIGINT)
    said = said_at_the_end(process)
    assert process.returncode == 128 + signal.SIGINT
    assert said == "stopped\n"


def test_afterwards_all_is_as_before() -> None:
    before = [signal.getsignal(one) for one in (signal.SIGINT, signal.SIGTERM)]
    with stoppable(lambda: "stopped"):
        assert signal.getsignal(signal.SIGINT) != before[0]
    assert [signal.getsignal(one) for one in (signal.SIGINT, signal.SIGTERM)] == before


def test_what_is_to_be_ignored_stays_ignored() -> None:
    before = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        with stoppable(lambda: "stopped"):
            assert signal.getsignal(signal.SIGINT) is signal.SIG_IGN
    finally:
        signal.signal(signal.SIGINT, before)


def command(*arguments: str, **options: Any) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-m", "fishdown.cli", *arguments],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        # As in a terminal, the signal is for all processes of the command.
        start_new_session=True,
    )


LONG = ["--draws", "400000", "--cores", "2"]
RECORDS = str(demo_folder() / "watershed")
COMMANDS = {
    "fit": ["fit", RECORDS, "--out", "OUT", *LONG],
    "fit by PyMC": ["fit", RECORDS, "--out", "OUT", "--sampler", "pymc", *LONG],
    "shapes": ["shapes", RECORDS, *LONG],
    "demo": ["demo", "--out", "OUT", *LONG],
    "calibrate": ["calibrate", "one_lake", "--out", "OUT", "--cores", "2"],
}


@pytest.mark.slow
@pytest.mark.parametrize("after", [2.0, 8.0, 30.0])
@pytest.mark.parametrize("name", COMMANDS)
@pytest.mark.parametrize("twice", [False, True])
def test_real_commands(tmp_path: Path, name: str, after: float, twice: bool) -> None:
    out = tmp_path / "out"
    process = command(*(str(out) if word == "OUT" else word for word in COMMANDS[name]))
    time.sleep(after)
    os.killpg(process.pid, signal.SIGINT)
    started = time.monotonic()
    if twice:
        time.sleep(0.1)
        os.killpg(process.pid, signal.SIGINT)
    said = said_at_the_end(process)
    print(f"{name}, {after} s, twice={twice}: ended after {time.monotonic() - started:.2f} s")
    assert "Traceback" not in said
    assert process.returncode == 130
    assert said.startswith("fishdown: stopped; ")
    assert name == "calibrate" or not out.exists()
