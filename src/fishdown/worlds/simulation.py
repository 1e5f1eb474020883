"""Draw a campaign from a world: season after season, and the records that a crew would keep."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from fishdown.records.areas import no_areas
from fishdown.records.checked import Records
from fishdown.records.movements import no_movements
from fishdown.records.second_looks import no_second_looks
from fishdown.records.settings import Settings
from fishdown.records.surveys import no_surveys
from fishdown.records.tables import empty_frame
from fishdown.worlds.netting import season, warmth
from fishdown.worlds.winter import Stock, winter

if TYPE_CHECKING:
    from fishdown.campaign import Campaign
    from fishdown.worlds.truth import LakeTruth, World


def simulate(world: World, rng: np.random.Generator) -> tuple[Campaign, pd.DataFrame]:
    """Draw one campaign from a world.

    Returns
    -------
    campaign : Campaign
        What the crew would have written down.
    truth : pandas.DataFrame
        lake, season, quantity, value: what they would like to know.
    """
    from fishdown.campaign import from_records

    records, truth = simulate_records(world, rng)
    return from_records(records), truth


def simulate_records(world: World, rng: np.random.Generator) -> tuple[Records, pd.DataFrame]:
    """Draw one campaign as `simulate` does, and leave it as the tables that the crew kept.

    Whoever asks what was known at an earlier day takes rows away before they become a campaign.
    """
    names = (
        "marked", "pulls", "measured", "recaptures", "second_looks", "surveys", "tags", "detections"
    )  # fmt: skip
    tables: dict[str, list[dict[str, Any]]] = {name: [] for name in names}
    truth: list[dict[str, Any]] = []
    for lake in world.lakes:
        stock = Stock(unmarked=lake.fish, marked=0)
        marks_on_record = 0.0
        for year in range(lake.first_year, world.years):
            if year > lake.first_year:
                stock = winter(stock, world, lake, rng)
            before = stock.total
            stock, marks_on_record, weight = season(
                world, lake, year, stock, marks_on_record, rng, tables
            )
            truth += _truth(world, lake, year, before, stock.total, weight)
    return _records(world, tables), pd.DataFrame(truth)


def _truth(
    world: World, lake: LakeTruth, year: int, before: int, after: int, weight_left: float
) -> list[dict[str, Any]]:
    known = {
        "abundance_before": before,
        "abundance_after": after,
        "catchability_at_reference": -np.expm1(-lake.area_fished_ha / lake.area_ha),
        "temperature_effect": warmth(world, lake, world.reference_temperature - 10.0),
        "mean_weight": lake.mean_weight,
        "mean_weight_left": weight_left,
        "biomass_before": before * lake.mean_weight / lake.area_ha,
        "biomass_after": after * weight_left / lake.area_ha,
    }
    season = str(world.first_day.year + year)
    return [
        {"lake": lake.name, "season": season, "quantity": name, "value": float(value)}
        for name, value in known.items()
    ]


def _records(world: World, tables: dict[str, list[dict[str, Any]]]) -> Records:
    frames = {name: pd.DataFrame(rows) for name, rows in tables.items()}
    for frame in (frame for frame in frames.values() if "date" in frame):
        frame["date"] = pd.to_datetime(frame["date"])
    if len(frames["detections"]):
        detections = frames["detections"]
        detections["time"] = pd.to_datetime(detections["time"], utc=True)
    bycatch = ("date", "lake", "season", "net", "species", "count", "dead")
    empty = {
        name: pd.Series(dtype="datetime64[ns]" if name == "date" else object) for name in bycatch
    }
    return Records(
        path="simulated",
        settings=Settings(
            title="Simulated campaign", species="common carp", threshold_kg_per_ha=100.0
        ),
        lakes=pd.DataFrame(
            [
                {
                    "lake": lake.name,
                    "area_ha": lake.area_ha,
                    "threshold_kg_per_ha": 100.0,
                    "connected": lake.connected,
                    "young_eaten": lake.young_eaten,
                }
                for lake in world.lakes
            ]
        ),
        areas=no_areas(),
        marked=frames["marked"],
        pulls=frames["pulls"],
        recaptures=frames["recaptures"],
        measured=frames["measured"],
        movements=no_movements(),
        surveys=frames["surveys"] if len(frames["surveys"]) else no_surveys(),
        second_looks=frames["second_looks"] if len(frames["second_looks"]) else no_second_looks(),
        bycatch=pd.DataFrame(empty),
        bycatch_limits=empty_frame("bycatch_limits"),
        species_names=empty_frame("species_names"),
        tags=frames["tags"],
        detections=frames["detections"],
        clock_checks=pd.DataFrame(),
        warnings=(),
        hashes={},
    )
