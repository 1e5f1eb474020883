"""What the terminal shows: odd names, long numbers, progress."""

from __future__ import annotations

import io
import re
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
from fishdown.terminal.progress import counting_progress, sampling_progress

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


def test_progress_elsewhere_is_a_plain_line_now_and_then(monkeypatch: pytest.MonkeyPatch) -> None:
    clock = iter([100.0, 104.0, 110.5, 111.0, 131.0])
    monkeypatch.setattr("fishdown.terminal.progress.time.monotonic", lambda: next(clock))
    text = io.StringIO()
    console = Console(file=text, width=80, force_terminal=False)
    with sampling_progress(console) as report:
        for done in (10, 500, 1_200, 1_300, 8_000):
            report(done, 8_000, 1)
    assert text.getvalue() == (
        "  sampling: 1,200 of 8,000 draws, 1 divergence\n"
        "  sampling: 8,000 of 8,000 draws, 1 divergence\n"
    )


def test_time_left_is_told_by_the_pace_after_the_first_step(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A hundred were kept, and compiling took 50 s; then ten steps a minute."""
    clock = iter([100.0, 150.0, 156.0, 210.0])
    monkeypatch.setattr("fishdown.terminal.progress.time.monotonic", lambda: next(clock))
    text = io.StringIO()
    with counting_progress(Console(file=text, width=80, force_terminal=False), "steps") as report:
        for done in (100, 101, 102, 111):
            report(done, 141)
    assert text.getvalue() == "  111 of 141 steps, about 3 minutes left\n"
    text = io.StringIO()
    with counting_progress(Console(file=text, width=80, force_terminal=True), "steps") as report:
        report(100, 141)
        report(101, 141)
    assert "101 of 141 steps" in text.getvalue()


def test_progress_in_a_terminal_is_a_bar_that_goes_away() -> None:
    text = io.StringIO()
    console = Console(file=text, width=80, force_terminal=True)
    with sampling_progress(console) as report:
        report(4_000, 8_000, 2)
    assert "\x1b[" in text.getvalue()
    assert "4000 of 8000 draws" in text.getvalue()
    assert "2 divergences" in text.getvalue()
