"""From clean records to labelled arrays, worked out by hand."""

from __future__ import annotations

import dataclasses
import hashlib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import xarray as xr

import fishdown

PARTS = ("lakes", "seasons", "pulls", "fish", "bycatch", "batches")


def alder(folder_of: Callable[..., Path]) -> fishdown.Campaign:
    """Two lakes, the later letter first; in Alder Pond fish are marked in the season as well.

    Alder Pond, 29 marked fish alive in May. 1 June: 10 caught, 2 of them marked. 5 June: 8 caught,
    1 marked; 3 go back alive, the marked one first. 10 June: 6 caught, 1 marked; then 20 more are
    marked, of which 3 die. 12 June: 4 caught, 2 marked.
    """
    return fishdown.read(
        folder_of(
            lakes=[
                {
                    "lake": "Zander Lake",
                    "area_ha": 40.0,
                    "threshold_kg_per_ha": "",
                    "connected": "",
                },
                {
                    "lake": "Alder Pond",
                    "area_ha": 2.5,
                    "threshold_kg_per_ha": 60,
                    "connected": "yes",
                },
                {
                    "lake": "Dry Hollow",
                    "area_ha": 1.0,
                    "threshold_kg_per_ha": "",
                    "connected": "no",
                },
            ],
            pulls=[
                pull("2024-06-01", "Alder Pond", 10, recaptured=2, water_temp_c=18.5),
                pull("2024-06-05", "Alder Pond", 8, recaptured=1, released_again=3),
                pull("2024-06-10", "Alder Pond", 6, recaptured=1, spoiled="yes"),
                pull("2024-06-12", "Alder Pond", 4, recaptured=2, mesh_mm=90, bait_days=2.5),
                pull("2023-07-01", "Zander Lake", 70, net="N2", order=2),
                pull("2023-07-01", "Zander Lake", 50, net="N1", order=1),
                pull("2024-07-03", "Zander Lake", 30),
            ],
            marked=[
                marked("2024-05-02", 30, 1),
                marked("2024-06-10", 20, 3),
            ],
            measured=[
                measured("2024-06-01", "Alder Pond", weight_kg=2.5, length_mm=510),
                measured("2024-07-03", "Zander Lake", weight_kg=3.5),
            ],
            bycatch=[
                {
                    "date": "2024-06-05",
                    "lake": "Alder Pond",
                    "net": "N1",
                    "species": "pike",
                    "count": 4,
                    "dead": 1,
                }
            ],
        )
    )


def pull(date: str, lake: str, caught: int, net: str = "N1", **more: Any) -> dict[str, Any]:
    return {"date": date, "lake": lake, "net": net, "caught": caught, **more}


def marked(date: str, released: int, died: int) -> dict[str, Any]:
    row = {"date": date, "lake": "Alder Pond", "batch": "b", "mark": "fin_clip"}
    return {**row, "released": released, "died": died}


def measured(date: str, lake: str, **more: float) -> dict[str, Any]:
    return {"date": date, "lake": lake, **more}


def test_order_of_lakes_seasons_and_pulls(folder_of: Callable[..., Path]) -> None:
    campaign = alder(folder_of)
    assert campaign.lakes["lake"].values.tolist() == ["Zander Lake", "Alder Pond", "Dry Hollow"]
    assert campaign.seasons["season"].values.tolist() == [
        "Zander Lake 2023",
        "Zander Lake 2024",
        "Alder Pond 2024",
    ]
    assert campaign.seasons["lake"].values.tolist() == ["Zander Lake", "Zander Lake", "Alder Pond"]
    assert campaign.seasons["lake_index"].values.tolist() == [0, 0, 1]
    assert campaign.seasons["label"].values.tolist() == ["2023", "2024", "2024"]
    pulls = campaign.pulls
    assert pulls["season_index"].values.tolist() == [0, 0, 1, 2, 2, 2, 2]
    assert pulls["caught"].values.tolist() == [50, 70, 30, 10, 8, 6, 4]
    assert pulls["net"].values.tolist()[:2] == ["N1", "N2"]


def test_lakes(folder_of: Callable[..., Path]) -> None:
    lakes = alder(folder_of).lakes
    assert lakes["area"].values.tolist() == [40.0, 2.5, 1.0]
    assert lakes["threshold"].values.tolist() == [100.0, 60.0, 100.0]  # the campaign's where empty
    assert lakes["connected"].values.tolist() == [False, True, False]


def test_fish_gone_and_marks_left(folder_of: Callable[..., Path]) -> None:
    campaign = alder(folder_of)
    pulls = campaign.season_pulls(2)
    assert pulls["removed"].values.tolist() == [10, 5, 6, 4]
    # The three that died of marking on 10 June count from then on; the one of May never did.
    assert pulls["gone_before"].values.tolist() == [0, 10, 15, 24]
    # Fish marked on 10 June are at large from the next day on.
    assert pulls["marks_at_large"].values.tolist() == [29, 27, 27, 43]
    seasons = campaign.seasons.isel(season=2)
    assert float(seasons["gone"]) == 28
    assert float(seasons["marked"]) == 29 + 17
    assert float(seasons["marks_left"]) == 46 - 2 - 0 - 1 - 2
    assert str(seasons["first_day"].values)[:10] == "2024-06-01"
    assert str(seasons["last_day"].values)[:10] == "2024-06-12"


def test_each_season_starts_afresh(folder_of: Callable[..., Path]) -> None:
    campaign = alder(folder_of)
    assert campaign.pulls["gone_before"].values.tolist()[:3] == [0, 50, 0]
    assert campaign.seasons["gone"].values.tolist()[:2] == [120, 30]
    assert campaign.seasons["marked"].values.tolist()[:2] == [0, 0]
    assert campaign.seasons["marks_left"].values.tolist()[:2] == [0, 0]


def test_what_was_written_about_a_pull(folder_of: Callable[..., Path]) -> None:
    pulls = alder(folder_of).season_pulls(2)
    nan = float("nan")
    for name, values in {
        "recaptured": [2, 1, 1, 2],
        "released_again": [0, 3, 0, 0],
        "temperature": [18.5, nan, nan, nan],
        "mesh_mm": [nan, nan, nan, 90],
        "bait_days": [nan, nan, nan, 2.5],
        "spoiled": [False, False, True, False],
    }.items():
        np.testing.assert_array_equal(pulls[name].values, values, err_msg=name)


def test_measured_fish_and_bycatch(folder_of: Callable[..., Path]) -> None:
    campaign = alder(folder_of)
    assert campaign.fish["season_index"].values.tolist() == [2, 1]
    assert campaign.fish["weight"].values.tolist() == [2.5, 3.5]
    np.testing.assert_array_equal(campaign.fish["length"].values, [510.0, np.nan])
    entry = campaign.bycatch.isel(bycatch=0)
    assert (str(entry["species"].values), float(entry["count"]), float(entry["dead"])) == (
        "pike",
        4,
        1,
    )
    assert int(entry["season_index"]) == 2


@pytest.mark.parametrize(
    ("part", "name", "unit"),
    [
        ("lakes", "area", "ha"),
        ("lakes", "threshold", "kg ha-1"),
        ("seasons", "gone", "count"),
        ("pulls", "caught", "count"),
        ("pulls", "temperature", "degree_Celsius"),
        ("pulls", "mesh_mm", "mm"),
        ("pulls", "bait_days", "d"),
        ("fish", "length", "mm"),
        ("fish", "weight", "kg"),
        ("bycatch", "count", "count"),
    ],
)
def test_units(folder_of: Callable[..., Path], part: str, name: str, unit: str) -> None:
    assert getattr(alder(folder_of), part)[name].attrs["units"] == unit


def assert_same(one: fishdown.Campaign, other: fishdown.Campaign) -> None:
    assert one.settings == other.settings
    assert one.warnings == other.warnings
    assert one.hashes == other.hashes
    for part in PARTS:
        xr.testing.assert_identical(getattr(one, part), getattr(other, part))
        for name, variable in getattr(one, part).variables.items():
            assert variable.dtype.kind == getattr(other, part)[name].dtype.kind, name


def through_netcdf(campaign: fishdown.Campaign, path: Path) -> fishdown.Campaign:
    campaign.to_tree().to_netcdf(path, engine="netcdf4")
    with xr.open_datatree(path, engine="netcdf4") as tree:
        return fishdown.Campaign.from_tree(tree.load())


def test_through_netcdf_and_back(folder_of: Callable[..., Path], tmp_path: Path) -> None:
    campaign = alder(folder_of)
    assert_same(through_netcdf(campaign, tmp_path / "campaign.nc"), campaign)


def test_empty_tables_and_odd_names_through_netcdf(
    folder_of: Callable[..., Path], tmp_path: Path
) -> None:
    name = 'Žabí rybník, "dolní" [bold]'
    campaign = fishdown.read(
        folder_of(
            lakes=[{"lake": name, "area_ha": 2.0}],
            pulls=[pull("2024-06-01", name, 20), pull("2024-06-02", name, 12)],
        )
    )
    assert campaign.fish.sizes["fish"] == campaign.bycatch.sizes["bycatch"] == 0
    again = through_netcdf(campaign, tmp_path / "campaign.nc")
    assert_same(again, campaign)
    assert again.seasons["lake"].values.tolist() == [name]


def test_a_campaign_is_frozen(folder_of: Callable[..., Path]) -> None:
    campaign = alder(folder_of)
    with pytest.raises(dataclasses.FrozenInstanceError):
        campaign.lakes = campaign.seasons  # type: ignore[misc]


def test_where_it_came_from(folder_of: Callable[..., Path], tmp_path: Path) -> None:
    campaign = alder(folder_of)
    files = {path.name: path.read_bytes() for path in (tmp_path / "records").iterdir()}
    assert campaign.hashes == {
        name: hashlib.sha256(content).hexdigest() for name, content in files.items()
    }


def test_it_says_what_it_holds(folder_of: Callable[..., Path]) -> None:
    assert repr(alder(folder_of)) == (
        "<Campaign 'A test': 3 lakes, 3 seasons, 7 pulls, 2 measured fish>"
    )
