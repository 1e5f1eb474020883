"""The command, with simulations that only pretend."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
from command_lines import assert_readable, joined

from fishdown import parallel
from fishdown.cli import main
from fishdown.models.spec import read_model
from fishdown.terminal.exit_codes import DONE, GATE_FAILED, USAGE


def pretend(places: Callable[[int], float], stop_at: int = 10_000) -> Any:
    def here(
        do: Any, numbers: list[int], cores: int, work: str
    ) -> Iterator[tuple[int, dict[str, Any]]]:
        for number in numbers:
            if number == stop_at:
                raise KeyboardInterrupt
            found = {"density": places(number), "biomass_after": 1.0 - places(number)}
            yield number, {"places": found, "divergences": 0, "ess": 300.0, "tries": 1}

    return here


def even(number: int) -> float:
    return float((number * np.sqrt(2.0)) % 1.0)


def command(out: Path, *more: str) -> list[str]:
    return ["calibrate", "few_passes", "--out", str(out), "--simulations", "100", *more]


def test_a_stopped_study_goes_on(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(parallel, "here", pretend(even, stop_at=25))
    assert main(command(tmp_path)) == 130
    assert "stopped; completed work is kept, and the same" in capsys.readouterr().err
    monkeypatch.setattr(parallel, "here", pretend(even))
    assert main(command(tmp_path)) == DONE
    printed = capsys.readouterr().out
    assert_readable(printed)
    assert "100 simulations: calibrated" in joined(printed)
    assert {path.name for path in tmp_path.iterdir()} == {
        "calibration.jsonl",
        "calibration.csv",
        "calibration.png",
    }
    table = pd.read_csv(tmp_path / "calibration.csv")
    assert table["outcome"].tolist() == ["even", "even"]
    kept = (tmp_path / "calibration.jsonl").read_bytes()
    assert main(command(tmp_path, "--seed", "21")) == USAGE
    assert "holds results of another calibration" in capsys.readouterr().err
    assert (tmp_path / "calibration.jsonl").read_bytes() == kept


def test_six_simulations_are_too_few(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(parallel, "here", pretend(even))
    assert main(command(tmp_path, "--simulations", "6")) == GATE_FAILED
    printed = joined(capsys.readouterr().out)
    assert "6 simulations: TOO FEW TO TELL" in printed
    assert "calibrated:" not in printed
    assert "posterior standard deviations or more, but not intervals" in printed
    table = pd.read_csv(tmp_path / "calibration.csv")
    assert table["outcome"].tolist() == ["cannot tell", "cannot tell"]


def test_an_uneven_model_is_told_apart(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(parallel, "here", pretend(lambda number: 0.8 + 0.2 * even(number)))
    assert main(command(tmp_path)) == GATE_FAILED
    assert "NOT CALIBRATED: density, biomass_after" in joined(capsys.readouterr().out)


def test_what_is_refused_leaves_no_folder(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "study"
    assert main(["calibrate", "no_such_model", "--out", str(out)]) == USAGE
    assert "no model named 'no_such_model'" in capsys.readouterr().err
    unseen = tmp_path / "unseen.toml"
    text = read_model("many_years").text.replace("[parts]", '[parts]\nvulnerable = "some"')
    text = text.replace("[priors]", "[priors]\nvulnerable = { beta = { a = 8.0, b = 2.0 } }")
    unseen.write_text(text, encoding="utf-8")
    assert main(["calibrate", str(unseen), "--out", str(out)]) == USAGE
    assert 'years = "linked" goes with marks = "all_count" or "eff' in capsys.readouterr().err
    monkeypatch.setattr(parallel, "PATIENCE", 1)
    assert main(command(out, "--scheduler", "tcp://127.0.0.1:1")) == USAGE
    assert "no Dask scheduler answers" in capsys.readouterr().err
    assert not out.exists()
    # A folder that was there before stays.
    out.mkdir()
    assert main(command(out, "--scheduler", "tcp://127.0.0.1:1")) == USAGE
    assert out.is_dir()
