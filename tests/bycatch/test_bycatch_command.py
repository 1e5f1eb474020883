"""The command on bycatch, as people meet it."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path

import pandas as pd
import pytest
from command_lines import assert_readable, joined, passes

import fishdown
from fishdown.cli import main
from fishdown.demo import demo_folder


@pytest.fixture
def watershed(tmp_path: Path) -> Path:
    return Path(shutil.copytree(demo_folder() / "watershed", tmp_path / "watershed"))


def test_tables_and_sentences(watershed: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["bycatch", str(watershed), "--pulls", "10"]) == 0
    said = capsys.readouterr().out
    assert_readable(said)
    assert said.startswith("Bycatch as counted")
    for words in ("channel catfish", "October", "exceeded", "at most"):
        assert words in joined(said)
    assert "freshwater drum, Tinderfen Lake 2025: 14 fish counted; the limit is 12" in joined(said)
    assert "paddlefish: none in 127 counted pulls." in joined(said)
    assert "Pulls to come are taken to be like those" in joined(said)
    for never in (" 0 %", "(0 %", "100 %"):
        assert never not in said


def test_without_pulls_to_come(watershed: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["bycatch", str(watershed)]) == 0
    said = capsys.readouterr().out
    assert_readable(said)
    assert "channel catfish, all lakes 2025: 231 fish counted; the limit is 290 fish." in joined(
        said
    )
    assert "exceed the limit" not in joined(said)
    assert "kept" in said


def test_files_beside_the_records(watershed: Path, capsys: pytest.CaptureFixture[str]) -> None:
    before = {path.name: path.read_bytes() for path in watershed.iterdir()}
    assert main(["bycatch", str(watershed), "--pulls", "10", "--out", str(watershed)]) == 0
    said = joined(capsys.readouterr().out)
    names = {path.name for path in watershed.iterdir()} - set(before)
    assert names == {
        "bycatch_rates.csv", "bycatch_effects.csv", "bycatch_against_limits.csv", "bycatch.txt"
    }  # fmt: skip
    assert all(name in said for name in names)
    assert all((watershed / name).read_bytes() == content for name, content in before.items())
    found = fishdown.bycatch(watershed, pulls=10)
    for name, frame in (
        ("bycatch_rates", found.frame),
        ("bycatch_effects", found.effects),
        ("bycatch_against_limits", found.limits),
    ):
        file = pd.read_csv(watershed / f"{name}.csv", dtype={"season": str})
        pd.testing.assert_frame_equal(file, frame, check_dtype=False)
    text = (watershed / "bycatch.txt").read_text(encoding="utf-8")
    assert text.splitlines() == found.sentences()


def test_records_without_bycatch(
    folder_of: Callable[..., Path], capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["bycatch", str(passes(folder_of)), "--pulls", "3"]) == 0
    said = capsys.readouterr().out
    assert said == "No bycatch is on record. Either there was none, or it was not recorded.\n"


def test_records_with_problems(watershed: Path, capsys: pytest.CaptureFixture[str]) -> None:
    limits = watershed / "bycatch_limits.csv"
    limits.write_text(limits.read_text().replace("10,dead", "ten,dead"))
    out = watershed / "out"
    assert main(["bycatch", str(watershed), "--out", str(out)]) == 1
    said = capsys.readouterr()
    assert 'bycatch_limits.csv, row 3, limit = "ten": not a number; write' in said.err
    assert said.out == ""
    assert not out.exists()


@pytest.mark.parametrize(
    ("option", "text"),
    [
        (["--pulls", "0"], "argument --pulls: '0': write a whole number, 1 or more"),
        (["--month", "13"], "argument --month: '13': write a month as a number, 1 to 12"),
        (["--month", "June"], "argument --month: 'June': write a month as a number, 1 to 12"),
    ],
)
def test_wrong_options(option: list[str], text: str, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as stopped:
        main(["bycatch", "records", *option])
    assert stopped.value.code == 2
    assert text in capsys.readouterr().err
