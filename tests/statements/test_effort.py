"""Effort: what the crew did, counted from the files by other means."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from drawn_fits import drawn_fit, records

from fishdown import Fit
from fishdown.demo import demo_folder
from fishdown.display.fitted import effort_table
from fishdown.display.table import Source

# The contract of the table of effort.
COLUMNS = (
    "lake", "season", "first_day", "last_day", "days", "nets", "pulls", "spoiled", "marked",
    "recaptured", "caught", "removed", "removed_low_kg", "removed_median_kg", "removed_high_kg",
    "effort_h", "caught_per_h"
)  # fmt: skip


def test_counts_are_those_of_the_files() -> None:
    fit = drawn_fit(demo_folder() / "watershed")
    table = fit.effort().set_index("lake")
    assert tuple(fit.effort().columns) == COLUMNS
    pulls = pd.read_csv(demo_folder() / "watershed" / "pulls.csv")
    marked = pd.read_csv(demo_folder() / "watershed" / "marked.csv")
    recaptures = pd.read_csv(demo_folder() / "watershed" / "recaptures.csv")
    for lake, mine in pulls.groupby("lake"):
        row = table.loc[lake]
        assert row["pulls"] == len(mine)
        assert row["days"] == mine["date"].nunique()
        assert row["nets"] == mine["net"].nunique()
        assert (row["first_day"], row["last_day"]) == (mine["date"].min(), mine["date"].max())
        assert row["spoiled"] == (mine["spoiled"] == "yes").sum()
        assert row["caught"] == row["removed"] == mine["caught"].sum()
        assert row["recaptured"] == recaptures.loc[recaptures["lake"] == lake, "count"].sum()
        alive = marked[marked["lake"] == lake]
        assert row["marked"] == (alive["released"] - alive["died"]).sum()


def test_kilograms_are_fish_times_their_mean_weight(tmp_path: Path) -> None:
    fit = drawn_fit(records(tmp_path / "r"))
    row = fit.effort().iloc[0]
    kg = row["removed"] * fit.quantities["mean_weight_removed"].values
    found = row[["removed_low_kg", "removed_median_kg", "removed_high_kg"]].to_list()
    assert found == pytest.approx(np.quantile(kg, [0.05, 0.5, 0.95]).tolist())


def test_what_cannot_be_said_is_missing(tmp_path: Path) -> None:
    bare = records(tmp_path / "bare", weighed=False)
    # Fish were marked, and nobody looked for the marks.
    pd.read_csv(bare / "pulls.csv").drop(columns="recaptured").to_csv(
        bare / "pulls.csv", index=False
    )
    row = drawn_fit(bare, "few_passes").effort().iloc[0]
    assert np.isnan(row["removed_median_kg"])
    assert np.isnan(row["recaptured"])
    fit = drawn_fit(records(tmp_path / "failed"), divergences=1)
    assert np.isnan(fit.effort().iloc[0]["removed_median_kg"])
    assert fit.effort(despite_gate=True).iloc[0]["removed_median_kg"] > 0
    assert fit.effort().iloc[0]["removed"] > 0


def test_fish_per_hour_where_every_valid_pull_has_its_hours(tmp_path: Path) -> None:
    folder = records(tmp_path / "hours", ("Pond", "Mere"))
    pulls = pd.read_csv(folder / "pulls.csv")
    pulls["effort_h"] = np.where(pulls["net"] == "A", 6.0, 12.5)
    pulls.loc[pulls["spoiled"] == "yes", "effort_h"] = np.nan
    pulls.loc[pulls.index[-1], "effort_h"] = np.nan
    pulls.to_csv(folder / "pulls.csv", index=False)
    fit = drawn_fit(folder)
    table = fit.effort().set_index("lake")
    valid = pulls[(pulls["lake"] == "Pond") & (pulls["spoiled"] == "no")]
    assert table["effort_h"]["Pond"] == valid["effort_h"].sum() == 6 * 6.0 + 5 * 12.5
    expected = valid["caught"].sum() / valid["effort_h"].sum()
    assert table["caught_per_h"]["Pond"] == pytest.approx(expected)
    assert table.loc["Mere", ["effort_h", "caught_per_h"]].isna().all()
    assert {"Hours fished", "Fish per hour"} <= headings(fit)
    assert "Hours fished" not in headings(drawn_fit(records(tmp_path / "none")))


def headings(fit: Fit) -> set[str]:
    return {column.heading for column in effort_table(Source("effort", fit.effort())).columns}
