"""`fishdown update`: how it says what it did, what it writes, how it ends."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pandas as pd
import pytest
from command_lines import FILES, assert_readable, joined, passes
from drawn_fits import drawn_fit, records
from fake_fits import StubSampler

import fishdown
from fishdown.cli import main
from fishdown.statements.updates import how_taken_up
from fishdown.terminal.update import other_model

# One pull more, of about what the handmade fit expects.
USUAL, HUGE = "2024-08-10,Pond,A,1,8,1,13.0,no\n", "2024-08-10,Pond,A,1,4000,1,13.0,no\n"


@pytest.fixture
def pond(tmp_path: Path) -> tuple[Path, Path]:
    """Save a handmade fit; returns its folder and that of its records."""
    folder = records(tmp_path / "records")
    # Its 2,000 draws would be too few for a night that it has to guess, and for scatter.
    alike = {"nights": "alike", "scatter": "same", "natural_deaths": "none"}
    return drawn_fit(folder, "one_lake", **alike).save(tmp_path / "fit"), folder


def add_pull(folder: Path, row: str) -> None:
    with (folder / "pulls.csv").open("a", encoding="utf-8") as file:
        file.write(row)


def test_a_pull_as_expected_is_reweighted(
    pond: tuple[Path, Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    earlier, folder = pond
    add_pull(folder, USUAL)
    out = tmp_path / "a" / "later"
    assert main(["update", str(earlier), str(folder), "--out", str(out)]) == 0
    said = capsys.readouterr().out
    assert_readable(said)
    entry = json.loads((out / "run.json").read_text(encoding="utf-8"))["update"]
    before, left = entry["draws"]
    assert before == 2_000 > left
    assert (
        f"1 new pull. Reweighted, not fitted again: Pareto k {entry['pareto_k']:.2f}, reliable "
        f"up to {entry['limit']:.2f}; {left:,} of 2,000 draws are left."
    ) in joined(said)
    assert "Sampled in" not in said
    assert {path.name for path in out.iterdir()} == FILES
    verdicts = pd.read_csv(out / "verdicts.csv")
    assert verdicts["statement"].iloc[1] in joined(said)
    old = pd.read_csv(earlier / "verdicts.csv")
    assert verdicts["biomass_median_kg_per_ha"].iloc[1] != old["biomass_median_kg_per_ha"].iloc[1]
    # What other commands make of it.
    assert main(["ahead", str(out), "--pulls", "3"]) == 0
    ahead = pd.read_csv(out / "ahead.csv")
    assert ahead["fish_left_median"].iloc[0] == pytest.approx(
        pd.read_csv(out / "estimates.csv").set_index("quantity").loc["abundance_after", "median"]
    )
    assert main(["report", str(out)]) == 0
    assert main(["figures", str(out), "--only", "biomass"]) == 0


def test_a_surprise_is_fitted_again(
    pond: tuple[Path, Path],
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    stub: Callable[..., type[StubSampler]],
) -> None:
    earlier, folder = pond
    sampler = stub(0)
    add_pull(folder, HUGE)
    options = ["--draws", "700", "--chains", "2", "--despite-gate"]
    code = main(["update", str(earlier), str(folder), "--out", str(tmp_path / "out"), *options])
    said = capsys.readouterr().out
    assert_readable(said)
    # The stand-in for the sampler knows no posterior: its marks and catches may well disagree.
    assert code == (3 if "WARNING: a gate failed" in said else 0)
    assert (
        "1 new pull. Fitted again, not reweighted: the new pulls took more fish than nearly all "
        "draws of abundance allow."
    ) in joined(said)
    assert "Sampled in" in said
    asked = sampler.asked[0]
    # What was not asked for is as in the fit: the handmade one was tuned with 500, by seed 5.
    assert (asked.draws, asked.chains, asked.tune, asked.seed) == (700, 2, 500, 5)


def test_no_new_pull(
    pond: tuple[Path, Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    earlier, folder = pond
    assert main(["update", str(earlier), str(folder), "--out", str(earlier)]) == 0
    assert "No new pulls: the fit is unchanged." in joined(capsys.readouterr().out)
    assert fishdown.load(earlier).run["update"]["how"] == "unchanged"


def test_a_failed_gate_withholds(
    pond: tuple[Path, Path],
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    stub: Callable[..., type[StubSampler]],
) -> None:
    earlier, folder = pond
    stub(3)
    add_pull(folder, HUGE)
    assert main(["update", str(earlier), str(folder), "--out", str(tmp_path / "out")]) == 3
    assert "Withheld for Pond in 2024" in joined(capsys.readouterr().out)


def test_problems_of_the_records_come_first(
    pond: tuple[Path, Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    earlier, folder = pond
    add_pull(folder, "2024-08-10,Pnd,A,1,-8,1,13.0,no\n")
    out = tmp_path / "out"
    assert main(["update", str(earlier), str(folder), "--out", str(out)]) == 1
    said = capsys.readouterr()
    assert said.err.startswith("2 problems in the records:")
    assert said.out == ""
    assert not out.exists()


def test_no_fit_and_no_folder_to_write_to(
    pond: tuple[Path, Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    earlier, folder = pond
    assert main(["update", str(folder), str(folder), "--out", str(tmp_path / "out")]) == 1
    assert "holds no fit" in capsys.readouterr().err
    taken = tmp_path / "taken"
    taken.write_text("mine", encoding="utf-8")
    assert main(["update", str(earlier), str(folder), "--out", str(taken / "out")]) == 2
    assert "name a folder that can be written to" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("entry", "words"),
    [
        (
            {"how": "refitted", "why": "there are new nets"},
            "Fitted again, not reweighted: there are new nets.",
        ),
        (
            {"how": "refitted", "new_pulls": 3, "why": "too few draws are left"},
            "3 new pulls. Fitted again, not reweighted: too few draws are left.",
        ),
    ],
)
def test_how_it_is_said(entry: dict[str, Any], words: str) -> None:
    assert how_taken_up(entry) == words


def test_a_model_that_the_records_would_no_longer_choose(
    folder_of: Callable[..., Path], stub: Callable[..., type[StubSampler]]
) -> None:
    """Five pulls are few passes, six are not."""
    stub(0)
    folder = passes(folder_of)
    fit = fishdown.fit(fishdown.read(folder))
    assert other_model(fit, fit.campaign) == ""
    add_pull(folder, "".join(f"2024-06-0{day},Pond,A,5\n" for day in (4, 5, 6)))
    more = fishdown.read(folder)
    assert "the default model is now one_lake, no longer few_passes" in other_model(fit, more)
    chosen = fishdown.fit(fishdown.read(folder), "one_lake")
    assert other_model(chosen, more) == ""
