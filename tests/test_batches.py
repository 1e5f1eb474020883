"""Batches of marked fish: what was released, and seen of each again, worked out by hand."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import xarray as xr
from field_records import daily_pulls

import fishdown

LAKES = [{"lake": name, "area_ha": 20} for name in ("Alder", "Birch", "Cedar")]
NAN = float("nan")


def marked(day: str, batch: str, mark: str, released: int, **more: Any) -> dict[str, Any]:
    row = {"date": day, "lake": "Alder", "batch": batch, "mark": mark, "released": released}
    return {**row, "died": 0, **more}


def seen(day: int, batch: str, **more: Any) -> dict[str, Any]:
    row = {"date": f"2024-06-{day:02d}", "lake": "Alder", "net": "A", "batch": batch, "count": ""}
    return {**row, "tag_id": "", "clip_seen": "", "tag_read": "", **more}


@pytest.fixture
def read(folder_of: Callable[..., Path]) -> Callable[..., fishdown.Campaign]:
    def make(*sightings: dict[str, Any], **more: Any) -> fishdown.Campaign:
        tables: dict[str, Any] = {
            "lakes": LAKES,
            "pulls": [*daily_pulls("Birch", [8, 6]), *daily_pulls("Alder", [40, 31, 25])],
            "marked": [
                marked("2024-05-01", "clips", "fin_clip", 30, died=2),
                marked("2024-05-02", "double", "both", 20),
                marked("2024-06-02", "clips", "fin_clip", 10),
                marked("2024-05-01", "never netted", "pit_tag", 50, lake="Cedar"),
            ],
        }
        if sightings:
            tables["recaptures"] = list(sightings)
        return fishdown.read(folder_of(**tables | more))

    return make


def test_batches_and_what_was_released_of_them(read: Callable[..., fishdown.Campaign]) -> None:
    batches = read().batches
    assert batches["batch"].values.tolist() == [
        "Alder 2024: clips",
        "Alder 2024: double",
        "Cedar 2024: never netted",
    ]
    assert batches["season_index"].values.tolist() == [0, 0, -1]
    assert batches["mark"].values.tolist() == ["fin_clip", "both", "pit_tag"]
    assert batches["released_alive"].values.tolist() == [38, 20, 50]
    assert batches["died"].values.tolist() == [2, 0, 0]
    assert str(batches["marked_on"].values[0])[:10] == "2024-05-01"
    # Alder comes first; the ten fish of 2 June are at large from 3 June on.
    assert batches["batch_released"].values.tolist() == [
        [28, 28, 38, 0, 0],
        [20, 20, 20, 0, 0],
        [0, 0, 0, 0, 0],
    ]


def test_recaptures_batch_by_batch(read: Callable[..., fishdown.Campaign]) -> None:
    campaign = read(
        seen(1, "clips", count=3), seen(1, "double"), seen(3, "double"), seen(3, "double")
    )
    np.testing.assert_array_equal(
        campaign.batches["batch_recaptured"].values,
        [[3, 0, 0, NAN, NAN], [1, 0, 2, NAN, NAN], [NAN] * 5],
    )


def test_a_fish_of_no_batch_leaves_its_catch_untold(
    read: Callable[..., fishdown.Campaign],
) -> None:
    campaign = read(seen(1, "clips", count=3), seen(1, ""), seen(3, "double"))
    recaptured = campaign.batches["batch_recaptured"].values
    np.testing.assert_array_equal(recaptured[:2, :3], [[NAN, 0, 0], [NAN, 0, 1]])


def test_a_batch_of_two_kinds_of_mark_is_two_that_nobody_tells_apart(
    read: Callable[..., fishdown.Campaign],
) -> None:
    batches = read(
        seen(1, "spring", clip_seen="yes", tag_read="no"),
        marked=[
            marked("2024-05-01", "spring", "both", 20),
            marked("2024-05-01", "spring", "fin_clip", 30),
        ],
    ).batches
    assert batches["batch"].values.tolist() == [
        "Alder 2024: spring, both",
        "Alder 2024: spring, fin_clip",
    ]
    recaptured = batches["batch_recaptured"].values[:, :3]
    np.testing.assert_array_equal(recaptured, [[NAN, 0, 0], [NAN, 0, 0]])
    assert batches["clip_only"].values.tolist() == [0, 0]


def test_the_one_batch_has_all_recaptures(read: Callable[..., fishdown.Campaign]) -> None:
    campaign = read(
        pulls=daily_pulls("Alder", [40, 31, 25], recaptured=[4, "", 0]),
        marked=[marked("2024-05-01", "clips", "fin_clip", 30)],
    )
    np.testing.assert_array_equal(campaign.batches["batch_recaptured"].values, [[4, NAN, 0]])


def test_with_marks_of_earlier_years_at_large_the_one_batch_has_not_all(
    read: Callable[..., fishdown.Campaign],
) -> None:
    campaign = read(
        pulls=daily_pulls("Alder", [40, 31, 25], recaptured=[4, 0, 1]),
        marked=[
            marked("2023-05-01", "old", "pit_tag", 50),
            marked("2024-05-01", "clips", "fin_clip", 30),
        ],
    )
    recaptured = campaign.batches["batch_recaptured"].values
    np.testing.assert_array_equal(recaptured, [[NAN] * 3, [NAN, 0, NAN]])


def test_what_was_left_of_two_marks(read: Callable[..., fishdown.Campaign]) -> None:
    batches = read(
        seen(1, "double", clip_seen="yes", tag_read="yes"),
        seen(1, "double", clip_seen="yes", tag_id="00A1"),  # a number that was read
        seen(1, "double", clip_seen="yes", tag_read="no", count=2),
        seen(2, "double", clip_seen="no", tag_read="yes"),
        seen(2, "double", clip_seen="yes"),  # nobody looked for the tag
        seen(3, "clips", clip_seen="yes", tag_read="no"),
    ).batches
    assert batches["both_seen"].values.tolist() == [0, 2, 0]
    assert batches["clip_only"].values.tolist() == [0, 2, 0]
    assert batches["tag_only"].values.tolist() == [0, 1, 0]


def test_no_marks_at_all(folder_of: Callable[..., Path], tmp_path: Path) -> None:
    campaign = fishdown.read(folder_of(lakes=LAKES, pulls=daily_pulls("Alder", [40, 31])))
    assert dict(campaign.batches.sizes) == {"batch": 0, "pull": 2}
    campaign.to_tree().to_netcdf(tmp_path / "campaign.nc", engine="netcdf4")
    with xr.open_datatree(tmp_path / "campaign.nc", engine="netcdf4") as tree:
        again = fishdown.Campaign.from_tree(tree.load()).batches
    assert dict(again.sizes) == {"batch": 0, "pull": 2}
    assert again["batch_released"].attrs["units"] == "count"
