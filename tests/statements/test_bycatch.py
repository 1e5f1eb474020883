"""Bycatch: totals are those of the records, intervals hold what they promise."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from drawn_fits import records
from scipy import stats

import fishdown
from fishdown.demo import demo_folder
from fishdown.statements.bycatch import bycatch, mean_per_pull, species_of

# The contract of the table of bycatch.
COLUMNS = (
    "lake", "season", "species", "count", "pulls", "per_pull_low", "per_pull_median",
    "per_pull_high", "dead", "dead_empty", "dead_share_low", "dead_share_median", "dead_share_high"
)  # fmt: skip


def test_totals_are_those_of_the_file() -> None:
    campaign = fishdown.read(demo_folder() / "watershed")
    table = bycatch(campaign)
    assert tuple(table.columns) == COLUMNS
    file = pd.read_csv(demo_folder() / "watershed" / "bycatch.csv")
    expected = file.groupby(["lake", "species"])[["count", "dead"]].sum()
    found = table.set_index(["lake", "species"])[["count", "dead"]]
    pd.testing.assert_frame_equal(found.sort_index(), expected.sort_index(), check_dtype=False)
    pulls = pd.read_csv(demo_folder() / "watershed" / "pulls.csv").groupby("lake").size()
    assert (table["pulls"] == table["lake"].map(pulls)).all()
    rate = table["count"] / table["pulls"]
    assert (table["per_pull_low"] < rate).all()
    assert (rate < table["per_pull_high"]).all()
    # The most numerous first within each lake.
    for _, lake in table.groupby("lake", sort=False):
        assert lake["count"].is_monotonic_decreasing


def test_counts_by_chance_have_jeffreys_interval() -> None:
    """Counts no more variable than Poisson: gamma with shape total + ½, rate pulls."""
    counts = np.array([1.0, 2.0, 1.0, 2.0, 1.0])
    expected = stats.gamma.ppf([0.05, 0.5, 0.95], counts.sum() + 0.5, scale=1.0 / 10)
    assert mean_per_pull(counts, 10) == pytest.approx(expected)
    # Nothing seen in 20 pulls still leaves room, by hand: half a chi-square of one degree.
    assert mean_per_pull(np.array([]), 20)[2] == pytest.approx(stats.chi2.ppf(0.95, 1) / 2.0 / 20)


@pytest.mark.parametrize(("mean", "size"), [(1.0, 1.0), (4.0, 0.5), (0.3, 50.0)])
def test_intervals_of_clumped_counts_hold_the_mean(mean: float, size: float) -> None:
    """Negative binomial counts of 40 pulls, 2,000 times; by chance alone 0.9 ± 0.02 (3 SE).

    The estimate of the dispersion costs some of it where counts are clumped.
    """
    rng = np.random.default_rng(4)
    held = 0
    for _ in range(2000):
        counts = rng.negative_binomial(size, size / (size + mean), 40).astype(float)
        low, _, high = mean_per_pull(counts[counts > 0], 40)
        held += low <= mean <= high
    assert 0.82 <= held / 2000 <= 0.95


def test_an_empty_entry_beside_others_is_none_dead(tmp_path: Path) -> None:
    """Crews write deaths only: of 21 perch 2 died, noted in one row of four."""
    folder = records(tmp_path / "r", bycatch=("roach", "perch"))
    file = pd.read_csv(folder / "bycatch.csv").head(5)
    file["species"] = ["perch", "perch", "perch", "perch", "roach"]
    file["count"], file["dead"] = [4, 7, 5, 5, 9], [2.0, np.nan, np.nan, np.nan, np.nan]
    file.to_csv(folder / "bycatch.csv", index=False)
    table = bycatch(fishdown.read(folder)).set_index("species")
    share = ["dead_share_low", "dead_share_median", "dead_share_high"]
    for species, dead, empty, seen in (("perch", 2, 3, 21), ("roach", 0, 1, 9)):
        assert table.loc[species, ["dead", "dead_empty", "count"]].tolist() == [dead, empty, seen]
        expected = stats.beta.ppf([0.05, 0.5, 0.95], dead + 0.5, seen - dead + 0.5)
        assert table.loc[species, share].to_list() == pytest.approx(expected.tolist())
    # 2 of 4 was the answer while rows without an entry were left out.
    assert table.loc["perch", "dead_share_high"] < 0.25


def test_where_a_season_has_no_entry_of_the_dead(tmp_path: Path) -> None:
    folder = records(tmp_path / "r", bycatch=("roach", "perch"))
    file = pd.read_csv(folder / "bycatch.csv").drop(columns="dead")
    file.to_csv(folder / "bycatch.csv", index=False)
    table = bycatch(fishdown.read(folder))
    columns = ["dead", "dead_empty", "dead_share_low", "dead_share_median", "dead_share_high"]
    assert table[columns].isna().all(axis=None)
    assert table["count"].notna().all()


def test_none_on_record(tmp_path: Path) -> None:
    table = bycatch(fishdown.read(records(tmp_path / "r", bycatch=())))
    assert len(table) == 0
    assert tuple(table.columns) == COLUMNS
    assert species_of(table) == []
