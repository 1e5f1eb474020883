"""The table of the bycatch: totals are those of the records, and what is unknown stays empty."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from drawn_fits import records
from scipy import stats

import fishdown
from fishdown.bycatch_rates.estimates import estimate_bycatch
from fishdown.bycatch_rates.net_days import net_days
from fishdown.demo import demo_folder
from fishdown.labels import ALL_LAKES
from fishdown.statements.bycatch import by_month_and_mesh, by_species, species_of

# The contract of the table of bycatch.
COLUMNS = (
    "lake", "season", "species", "count", "pulls", "per_pull_low", "per_pull_median",
    "per_pull_high", "share_low", "share_median", "share_high", "dead", "dead_empty",
    "dead_share_low", "dead_share_median", "dead_share_high"
)  # fmt: skip


def bycatch(campaign: fishdown.Campaign) -> pd.DataFrame:
    return by_species(estimate_bycatch(campaign))


def test_totals_are_those_of_the_file() -> None:
    folder = demo_folder() / "watershed"
    table = bycatch(fishdown.read(folder))
    assert tuple(table.columns) == COLUMNS
    file = pd.read_csv(folder / "bycatch.csv")
    expected = file.groupby(["lake", "species"])[["count", "dead"]].sum()
    of_lakes = table[table["lake"] != ALL_LAKES]
    found = of_lakes.set_index(["lake", "species"])[["count", "dead"]]
    pd.testing.assert_frame_equal(found.sort_index(), expected.sort_index(), check_dtype=False)
    pulls = pd.read_csv(folder / "pulls.csv")
    fished = pulls[pulls["spoiled"] == "no"].groupby("lake").size()
    assert (of_lakes["pulls"] == of_lakes["lake"].map(fished)).all()
    told = table[table["count"] > 0]
    for name in ("per_pull", "share", "dead_share"):
        assert (told[f"{name}_low"] < told[f"{name}_median"]).all()
        assert (told[f"{name}_median"] < told[f"{name}_high"]).all()
    # Named in a limit, and never counted: an upper bound, and no more.
    never = table[table["count"] == 0]
    assert never["species"].tolist() == ["paddlefish"]
    assert never[["per_pull_low", "per_pull_high"]].notna().all(axis=None)
    assert never[["per_pull_median", "share_high", "dead_share_high"]].isna().all(axis=None)
    # The most numerous first within each lake.
    for _, lake in table.groupby("lake", sort=False):
        assert lake["count"].is_monotonic_decreasing
    together = table[(table["lake"] == ALL_LAKES) & (table["count"] > 0)].set_index("species")
    totals = file.groupby("species")[["count", "dead"]].sum()
    pd.testing.assert_frame_equal(
        together[["count", "dead"]].sort_index(), totals, check_dtype=False
    )
    # Fish of pulls that were not void over their number, and over all fish of them.
    fished = pulls[pulls["spoiled"] == "no"].merge(file, on=["date", "lake", "net"])
    mean = fished.groupby("species")["count"].sum() / (pulls["spoiled"] == "no").sum()
    assert together["per_pull_median"].to_dict() == pytest.approx(mean.to_dict(), rel=0.15)
    caught = pulls.loc[pulls["spoiled"] == "no", "caught"].sum() + fished["count"].sum()
    share = fished.groupby("species")["count"].sum() / caught
    assert together["share_median"].to_dict() == pytest.approx(share.to_dict(), rel=0.15)


def test_void_and_uncounted_pulls_say_nothing_of_the_rate(tmp_path: Path) -> None:
    folder = records(tmp_path / "r", bycatch=("roach", "perch"))
    pulls = pd.read_csv(folder / "pulls.csv")
    before = net_days(fishdown.read(folder))
    assert before.pulls.sum() == (pulls["spoiled"] == "no").sum()
    noted = pd.read_csv(folder / "bycatch.csv")[["date", "lake", "net"]].drop_duplicates()
    key = ["date", "lake", "net"]
    empty = pulls.merge(noted, on=key, how="left", indicator=True)["_merge"] == "left_only"
    pulls["bycatch_counted"] = np.where(empty, "no", "")
    pulls.to_csv(folder / "pulls.csv", index=False)
    after = net_days(fishdown.read(folder))
    assert after.pulls.sum() == (~empty & (pulls["spoiled"] == "no")).sum()
    assert after.counts["roach"].sum() == before.counts["roach"].sum()


def test_several_pulls_of_a_net_on_a_day_are_one_count(tmp_path: Path) -> None:
    folder = tmp_path / "r"
    folder.mkdir()
    (folder / "campaign.toml").write_text('title = "A"\nspecies = "common carp"\n')
    (folder / "lakes.csv").write_text("lake,area_ha\nPond,2\n")
    (folder / "pulls.csv").write_text(
        "date,lake,net,order,caught,mesh_mm\n2025-06-01,Pond,A,1,9,50\n"
        "2025-06-01,Pond,A,2,5,50\n2025-07-01,Pond,A,1,3,25\n2025-07-02,Pond,B,1,4,\n"
    )
    (folder / "bycatch.csv").write_text(
        "date,lake,net,species,count\n2025-06-01,Pond,A,roach,3\n2025-06-01,Pond,A,roach,4\n"
    )
    found = net_days(fishdown.read(folder))
    assert found.pulls.tolist() == [2, 1, 1]
    assert found.target.tolist() == [14, 3, 4]
    assert found.counts["roach"].tolist() == [7, 0, 0]
    cells = found.cells.iloc[found.group]
    assert cells["month"].tolist() == [6, 7, 7]
    # log2 of the mesh size over the median, 50 mm; none on record counts as that.
    assert cells["mesh"].tolist() == [0.0, -1.0, 0.0]


def test_an_empty_entry_beside_others_is_none_dead(tmp_path: Path) -> None:
    """Crews write deaths only: of 21 perch 2 died, noted in one row of four."""
    folder = records(tmp_path / "r", bycatch=("roach", "perch"))
    file = pd.read_csv(folder / "bycatch.csv").head(5)
    file["species"] = ["perch", "perch", "perch", "perch", "roach"]
    file["count"], file["dead"] = [4, 7, 5, 5, 9], [2.0, np.nan, np.nan, np.nan, np.nan]
    file.to_csv(folder / "bycatch.csv", index=False)
    table = bycatch(fishdown.read(folder)).set_index("species")
    for species, dead, empty, seen in (("perch", 2, 3, 21), ("roach", 0, 1, 9)):
        assert table.loc[species, ["dead", "dead_empty", "count"]].tolist() == [dead, empty, seen]
        # Near the uniform prior's beta posterior; rows that die together make it wider.
        alone = stats.beta.ppf(0.95, dead + 1, seen - dead + 1)
        assert table.loc[species, "dead_share_high"] == pytest.approx(alone, rel=0.9)
    # 2 of 4 was the answer while rows without an entry were left out.
    assert table.loc["perch", "dead_share_median"] == pytest.approx(2 / 21, abs=0.05)


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


def test_months_are_ratios_to_their_average() -> None:
    found = estimate_bycatch(fishdown.read(demo_folder() / "watershed"))
    effects = by_month_and_mesh(found)
    assert set(effects["level"]) == {"June", "July", "August", "September", "October"}
    assert (effects["ratio_low"] < effects["ratio_median"]).all()
    # The demo's bycatch knows no months.
    assert ((effects["ratio_low"] < 1.0) & (effects["ratio_high"] > 1.0)).all()
    assert len(by_species(found)) == 4 * 3 + 1


def test_the_same_seed_gives_the_same_numbers() -> None:
    campaign = fishdown.read(demo_folder() / "watershed")
    pd.testing.assert_frame_equal(bycatch(campaign), bycatch(campaign))
