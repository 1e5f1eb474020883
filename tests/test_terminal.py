"""What the terminal shows: odd names, long numbers, progress."""

from __future__ import annotations

import io
import re
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pandas as pd
import pytest
from command_lines import assert_readable, joined, passes
from fake_fits import StubSampler
from rich.console import Console

import fishdown
from fishdown.cli import main
from fishdown.terminal.output import Channel
from fishdown.terminal.progress import Stages, _Lines, signs_of_life, stages

ODD_NAMES = ("<b>[red]x", "[bold]", '"A",b:fish:[/]')


@pytest.mark.parametrize("command", ["check", "priors", "formulas", "fit"])
def test_odd_names_are_printed_as_they_were_written(
    command: str,
    folder_of: Callable[..., Path],
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    stub: Callable[..., type[StubSampler]],
) -> None:
    stub(0)
    out = ["--out", str(tmp_path / "out")] if command == "fit" else []
    assert main([command, str(passes(folder_of, *ODD_NAMES)), *out]) == 0
    said = capsys.readouterr().out
    assert_readable(said)
    for name in ODD_NAMES:
        assert name in joined(said)


def test_odd_names_survive_the_files(
    folder_of: Callable[..., Path], tmp_path: Path, stub: Callable[..., type[StubSampler]]
) -> None:
    stub(0)
    main(["fit", str(passes(folder_of, *ODD_NAMES)), "--out", str(tmp_path / "out")])
    for table in ("verdicts", "estimates", "removals"):
        lakes = pd.read_csv(tmp_path / "out" / f"{table}.csv")["lake"]
        assert set(lakes) - {"all lakes"} == set(ODD_NAMES)
    loaded = fishdown.load(tmp_path / "out")
    assert set(loaded.campaign.lakes["lake"].values) == set(ODD_NAMES)


def test_numbers_of_many_digits_are_not_cut(
    folder_of: Callable[..., Path],
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    stub: Callable[..., type[StubSampler]],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    sampler = stub(0)
    few = sampler.sample

    def many(self: StubSampler, *arguments: Any) -> Any:
        tree = few(self, *arguments)
        tree["posterior"]["abundance"] = 12_345.0 * tree["posterior"]["abundance"]
        return tree

    monkeypatch.setattr(sampler, "sample", many)
    folder = passes(folder_of, "Great Northern Reservoir (upper basin)", "Llyn" + 30 * "-long")
    assert main(["fit", str(folder), "--out", str(tmp_path / "out")]) == 0
    said = capsys.readouterr().out
    assert_readable(said)
    assert re.search(r"\b2,\d\d0,000–2,\d\d0,000\b", said)


def in_a_file(
    monkeypatch: pytest.MonkeyPatch,
) -> tuple[Stages, io.StringIO, Callable[[float], None]]:
    """Stages as they are shown in a log file, and a clock that is moved by hand."""
    now = [100.0]
    monkeypatch.setattr("fishdown.terminal.progress.time.monotonic", lambda: now[0])
    monkeypatch.setattr("fishdown.terminal.progress._LOOK_EVERY_SECONDS", 0.01)
    text = io.StringIO()

    def passes_by(seconds: float) -> None:
        now[0] += seconds
        time.sleep(0.2)

    return _Lines(Console(file=text, width=80, force_terminal=False)), text, passes_by


def test_elsewhere_each_stage_is_a_line_and_a_long_one_gives_signs_of_life(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    stage, text, passes_by = in_a_file(monkeypatch)
    stage("Compiling the model")
    passes_by(8.0)
    assert text.getvalue() == ""
    passes_by(1.5)
    passes_by(10.0)
    stage("Sampling")
    stage.draws(500, 8_000, 0)
    passes_by(9.5)
    stage.draws(1_200, 8_000, 1)
    passes_by(9.5)
    stage.end()
    stage.close()
    assert text.getvalue() == (
        "  Compiling the model: 9.5 s so far\n"
        "  Compiling the model: 20 s so far\n"
        "  Compiling the model: 20 s\n"
        "  Sampling, 500 of 8,000 draws: 9.5 s so far\n"
        "  Sampling, 1,200 of 8,000 draws, 1 divergence: 19 s so far\n"
        "  Sampling: 19 s\n"
    )


def test_time_left_is_told_by_the_pace_after_the_first_step(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A hundred were kept, and compiling took 50 s; then ten steps a minute."""
    stage, text, passes_by = in_a_file(monkeypatch)
    stage("Simulating")
    for seconds, done in ((0.0, 100), (50.0, 101), (6.0, 102), (54.0, 111)):
        passes_by(seconds)
        stage.steps(done, 141, "steps")
    passes_by(9.5)
    stage.close()
    assert text.getvalue().splitlines() == [
        "  Simulating, 100 of 141 steps: 50 s so far",
        "  Simulating, 102 of 141 steps, about 4 minutes left: 1 min 50 s so far",
        "  Simulating, 111 of 141 steps, about 3 minutes left: 2 min 0 s so far",
    ]


def test_in_a_terminal_there_is_a_line_that_goes_away() -> None:
    text = io.StringIO()
    with stages(Console(file=text, width=80, force_terminal=True)) as stage:
        stage("Sampling")
        stage.draws(4_000, 8_000, 2)
        time.sleep(0.4)
        stage("Writing")
    assert "\x1b[" in text.getvalue()
    said = re.sub(r"\x1b\[[\d;?]*[a-zA-Z]", "", text.getvalue())
    assert "4,000 of 8,000 draws, 2 divergences" in said
    assert re.search(r"  Sampling: 0\.\d s", said)
    assert re.search(r"  Writing: 0\.\d s", said)


def test_a_stage_that_was_interrupted_has_no_time() -> None:
    text = io.StringIO()

    def interrupted() -> None:
        with stages(Console(file=text, width=80, force_terminal=False)) as stage:
            stage("Sampling")
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        interrupted()
    assert text.getvalue() == ""


def test_a_command_that_says_nothing_for_long_is_at_work(monkeypatch: pytest.MonkeyPatch) -> None:
    now = [100.0]
    monkeypatch.setattr("fishdown.terminal.progress.time.monotonic", lambda: now[0])
    monkeypatch.setattr("fishdown.terminal.progress._LOOK_EVERY_SECONDS", 0.01)
    text = io.StringIO()
    channel = Channel(text)
    with signs_of_life(channel):
        for seconds in (9.0, 1.0, 9.0):
            now[0] += seconds
            time.sleep(0.2)
        channel.write("said\n")
        now[0] += 9.0
        time.sleep(0.2)
    assert text.getvalue() == "  at work, 10 s so far\nsaid\n"
