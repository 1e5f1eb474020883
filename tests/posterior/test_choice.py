"""The model that records call for, by what they are and not by how few pulls there were."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

import fishdown
from fishdown.posterior.choice import choose_model


def records(
    nets: str = "A", times: int = 3, lakes: int = 1, years: int = 1, marked: int = 0
) -> dict[str, Any]:
    names = [f"Lake {number + 1}" for number in range(lakes)]
    pulls, batches = [], []
    for lake in names:
        for year in range(2023, 2023 + years):
            if marked:
                batches.append(
                    {"date": f"{year}-05-01", "lake": lake, "batch": f"b{year}",
                     "mark": "fin_clip", "released": marked}
                )  # fmt: skip
            pulls += [
                {"date": f"{year}-06-{day + 1:02}", "lake": lake, "net": net, "caught": 50 - day,
                 "recaptured": 2 if marked else ""}
                for day in range(times)
                for net in nets
            ]  # fmt: skip
    found: dict[str, Any] = {
        "lakes": [{"lake": lake, "area_ha": 4.0} for lake in names],
        "pulls": pulls,
    }
    return found | ({"marked": batches} if marked else {})


@pytest.mark.parametrize(
    ("tables", "model", "why"),
    [
        (records(), "few_passes", "up to 5 passes of one net over one place, and no marks"),
        (records(lakes=3), "few_passes", "up to 5 passes of one net over one place, and no marks"),
        (records(marked=40), "one_lake", "one lake in one season"),
        (records("ABC", 1), "one_lake", "one lake in one season"),
        (records("ABC", 1, marked=400), "one_lake", "one lake in one season"),
        (records("ABC", 2), "one_lake", "one lake in one season"),
        (records(times=6), "one_lake", "one lake in one season"),
        (records("AB", lakes=2), "pooled_lakes", "several lakes, one season each"),
        (records("AB", years=2), "many_years", "a lake was netted in several seasons"),
    ],
)
def test_the_records_choose(
    folder_of: Callable[..., Path], tables: dict[str, Any], model: str, why: str
) -> None:
    choice = choose_model(fishdown.read(folder_of(**tables)))
    assert (choice.spec.name, choice.why) == (model, why)


def test_two_meshes_are_two_gears(folder_of: Callable[..., Path]) -> None:
    tables = records(times=2)
    for row, mesh in zip(tables["pulls"], (50, 80), strict=True):
        row["mesh_mm"] = mesh
    assert choose_model(fishdown.read(folder_of(**tables))).spec.name == "one_lake"


def test_who_names_a_model_has_it(folder_of: Callable[..., Path]) -> None:
    campaign = fishdown.read(folder_of(**records()))
    choice = choose_model(campaign, "one_lake")
    assert (choice.spec.name, choice.why) == ("one_lake", "as asked for")
