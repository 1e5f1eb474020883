"""Names that read alike when joined: keys keep them apart, and so do the labels for people."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
from field_records import daily_pulls

import fishdown
from fishdown.checks.shapes import groups_of_pulls
from fishdown.labels import season_label, told_apart
from fishdown.models.data import model_data
from fishdown.models.spec import read_model


def lakes(*names: str) -> list[dict[str, Any]]:
    return [{"lake": name, "area_ha": 20} for name in names]


@pytest.fixture(scope="module")
def alike(shared_folder_of: Callable[..., Path]) -> fishdown.Campaign:
    """Lake Long in its season Pond 2025, and Long Pond in its season 2025."""
    return fishdown.read(
        shared_folder_of(
            lakes=lakes("Long", "Long Pond"),
            pulls=[
                *daily_pulls("Long", [40, 30, 20], "2025-06-01", season="Pond 2025"),
                *daily_pulls("Long Pond", [9, 8, 7, 6], "2025-06-01", season="2025"),
            ],
            marked=[
                {
                    "date": "2025-05-01",
                    "lake": lake,
                    "batch": "b",
                    "mark": "fin_clip",
                    "released": released,
                }
                for lake, released in (("Long", 50), ("Long Pond", 30))
            ],
        )
    )


def test_two_seasons_of_one_joined_name_stay_two(alike: fishdown.Campaign) -> None:
    assert alike.seasons["season"].values.tolist() == ["Long – Pond 2025", "Long Pond 2025"]
    assert alike.pulls["season_index"].values.tolist() == [0, 0, 0, 1, 1, 1, 1]
    assert alike.seasons["gone"].values.tolist() == [90, 30]
    assert alike.seasons["marked"].values.tolist() == [50, 30]
    assert alike.batches["batch"].values.tolist() == ["Long – Pond 2025: b", "Long Pond 2025: b"]
    assert alike.batches["season_index"].values.tolist() == [0, 1]


def test_coordinates_are_unique_whatever_the_names(folder_of: Callable[..., Path]) -> None:
    campaign = fishdown.read(
        folder_of(
            lakes=lakes("A", "A – B"),
            pulls=[
                *daily_pulls("A", [40, 30], "2025-06-01", season="B 2025"),
                *daily_pulls("A – B", [9, 8], "2025-06-01", season="2025"),
            ],
        )
    )
    assert campaign.seasons["season"].values.tolist() == ["A – B 2025", "A – B 2025 (2)"]
    assert campaign.pulls["season_index"].values.tolist() == [0, 0, 1, 1]


@pytest.fixture(scope="module")
def colons(shared_folder_of: Callable[..., Path]) -> fishdown.Campaign:
    """Net A: B of lake X, and net B of lake X: A."""
    return fishdown.read(
        shared_folder_of(
            lakes=lakes("X", "X: A"),
            pulls=[
                *daily_pulls("X", [40, 30], "2025-06-01"),
                {"date": "2025-06-03", "lake": "X", "net": "A: B", "caught": 20},
                {"date": "2025-06-03", "lake": "X: A", "net": "B", "caught": 9},
                {"date": "2025-06-09", "lake": "X: A", "net": "B", "caught": 8},
            ],
        )
    )


def test_nets_of_two_lakes_are_two(colons: fishdown.Campaign) -> None:
    # No net has hours here, and no spec was fitted to the records.
    spec = read_model("detailed_nets").with_parts(effort="pulls")
    data = model_data(colons, spec)
    assert data.pulls.nets == (("X", "A"), ("X", "A: B"), ("X: A", "B"))
    assert data.pulls.net.tolist() == [0, 0, 1, 2, 2]
    # The net of the second lake was not pulled by the first lake six days before.
    assert data.effects["rest"].days[3] == data.effects["rest"].days[0]
    assert [data.pulls.nets[net] for net in data.pulls.net[2:4]] == [("X", "A: B"), ("X: A", "B")]


def test_nets_are_left_out_one_by_one(colons: fishdown.Campaign) -> None:
    names, group = groups_of_pulls(colons, read_model("one_lake"), "net")
    assert group.tolist() == [0, 0, 1, 2, 2]
    assert names == ("X: A", "X: A: B", "X: A: B (2)")
    # A day in each lake is a group of its own.
    names, group = groups_of_pulls(colons, read_model("one_lake"), "day")
    assert group.tolist() == [0, 1, 2, 3, 4]
    assert names[3] == "X: A 2025-06-03"


def test_the_table_of_verdicts_names_both(capsys: pytest.CaptureFixture[str]) -> None:
    from rich.console import Console

    from fishdown.display.fitted import verdicts_table
    from fishdown.display.table import Source
    from fishdown.terminal.render import in_terminal

    rows = [
        {
            "lake": lake,
            "season": season,
            "when": when,
            "area_ha": 10.0,
            "biomass_median_kg_per_ha": place + 1.0,
            "biomass_low_kg_per_ha": 0.5,
            "biomass_high_kg_per_ha": 5.0,
            "probability_below": 0.5,
            "mc_error": 0.01,
            "words": "about as likely as not",
            "gate": "passed",
            "threshold_kg_per_ha": 100.0,
        }
        for place, (lake, season, when) in enumerate(
            (
                ("Long", "Pond 2025", "before"),
                ("Long", "Pond 2025", "after"),
                ("Long Pond", "2025", "before"),
            )
        )
    ]
    table = verdicts_table(Source("verdicts", pd.DataFrame(rows)))
    Console(width=120).print(in_terminal(table))
    printed = capsys.readouterr().out
    assert printed.count("Long – Pond 2025") == 1
    assert printed.count("Long Pond 2025") == 1


@pytest.mark.parametrize(
    ("lake", "season", "label"),
    [
        ("Sedge Lake", "2025", "Sedge Lake 2025"),
        ("Sedge Lake", "2025/26", "Sedge Lake 2025/26"),
        ("Sedge Lake", "spring 2025", "Sedge Lake – spring 2025"),
        ("Sedge Lake", "", "Sedge Lake"),
    ],
)
def test_labels_of_seasons(lake: str, season: str, label: str) -> None:
    assert season_label(lake, season) == label


def test_equal_labels_are_numbered() -> None:
    assert told_apart(["a", "b", "a", "a (2)", "a"]) == ["a", "b", "a (2)", "a (2) (2)", "a (3)"]
    many = told_apart(["net"] * 2_000)
    assert len(np.unique(many)) == 2_000
