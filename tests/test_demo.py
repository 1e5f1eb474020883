"""The demo: its records come from its generator, and the main job gets them right."""

from __future__ import annotations

import json
import runpy
from pathlib import Path

import pandas as pd
import pytest
from command_lines import FILES
from scipy import stats

import fishdown
from fishdown.cli import main
from fishdown.demo import demo_folder

ROOT = Path(__file__).parent.parent
KNOWN = 27  # nine quantities in each of three lakes
ALL_FILES = FILES | {"report.html"}
LAKE_FILES = {"comparison.csv", "lake_pairs.csv"}


def test_generating_again_gives_the_same_bytes(tmp_path: Path) -> None:
    runpy.run_path(str(ROOT / "demo" / "generate.py"))["main"](tmp_path)
    made = {path.relative_to(tmp_path): path.read_bytes() for path in tmp_path.rglob("*.*")}
    assert {str(path.parent) for path in made} == {".", "watershed"}
    for path, content in made.items():
        assert content == (demo_folder() / path).read_bytes(), path
    kept = {path.name for path in (demo_folder() / "watershed").iterdir()}
    assert kept == {path.name for path in made if path.parent.name == "watershed"}


def test_truth_agrees_with_the_records() -> None:
    """What was in the lakes before, less what went, is what is said to be left.

    Give or take what the crew knew by estimate: fish that a flood brought in.
    """
    campaign = fishdown.read(demo_folder() / "watershed")
    truth = pd.read_csv(demo_folder() / "truth.csv").pivot(
        index="lake", columns="quantity", values="value"
    )
    lakes = campaign.seasons["lake"].values
    taken = dict(zip(lakes, campaign.seasons["gone"].values, strict=True))
    marked = dict(zip(lakes, campaign.seasons["marked"].values, strict=True))
    estimated = dict(zip(lakes, campaign.seasons["moved_error"].values, strict=True))
    assert {lake for lake, error in estimated.items() if error} == {"Tinderfen Lake"}
    for lake, row in truth.iterrows():
        off = row["abundance_before"] - taken[lake] - row["abundance_after"]
        assert abs(off) <= 3.0 * estimated[lake]
        assert row["marked_at_start"] == marked[lake]


@pytest.fixture(scope="module")
def results(tmp_path_factory: pytest.TempPathFactory) -> tuple[int, Path]:
    out = tmp_path_factory.mktemp("demo") / "out"
    return main(["demo", "--out", str(out)]), out


def test_the_demo_ends_well(results: tuple[int, Path]) -> None:
    code, out = results
    assert code == 0
    assert {path.name for path in out.iterdir()} == ALL_FILES | LAKE_FILES | {"records"}
    run = json.loads((out / "run.json").read_text(encoding="utf-8"))
    assert run["quality_gate"]["divergences"] == 0
    assert run["quality_gate"]["passed"] is True
    assert run["model"] == "pooled_lakes"
    again = fishdown.load(out)
    assert again.passed
    assert len(again.verdicts()) == 6


def test_the_copied_records_are_the_demo_s(results: tuple[int, Path]) -> None:
    for path in (demo_folder() / "watershed").iterdir():
        assert (results[1] / "records" / path.name).read_bytes() == path.read_bytes()


def test_truth_lies_inside_the_intervals(results: tuple[int, Path]) -> None:
    """Of 27 intervals of 90 %, nearly as many hold the truth as were promised.

    Were all independent, chance would leave fewer than 20 less often than once in a hundred times.
    They are not (abundance and biomass of a lake miss together), so chance would do it a little
    more often; records and seed are fixed, so whether it did is known.
    """
    least = 20
    assert stats.binom.cdf(least - 1, KNOWN, 0.9) < 0.01
    estimates = pd.read_csv(results[1] / "estimates.csv", dtype={"season": str})
    truth = pd.read_csv(demo_folder() / "truth.csv", dtype={"season": str})
    both = truth.merge(estimates, on=["lake", "season", "quantity"], validate="one_to_one")
    assert len(both) == KNOWN
    inside = both["value"].between(both["low"], both["high"])
    print(f"{inside.sum()} of {KNOWN} truths lie inside their 90 % interval")
    assert inside.sum() >= least
    # An interval that holds everything says nothing. How much a mark counts alone makes a ratio of
    # 2.3 between the ends: exp(2 × 1.645 × 0.25), by the prior of the capture odds ratio.
    fish = both[both["quantity"] == "abundance_before"]
    assert (fish["high"] < 2.5 * fish["low"]).all()
