"""Tables of the pulls to come: one row a pull, and what is needed."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from fishdown.intervals import named_points

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fishdown.decisions.lake_ahead import LakeAhead

COLUMNS = (
    "lake", "season", "pull", "date", "net", "temperature_median_c", "temperature_low_c",
    "temperature_high_c", "colder_than_readings", "catch_median", "catch_low", "catch_high",
    "catch_expected_kg", "catch_mc_error_kg", "fish_left_median", "fish_left_low", "fish_left_high",
    "threshold_kg_per_ha", "biomass_median_kg_per_ha", "biomass_low_kg_per_ha",
    "biomass_high_kg_per_ha", "probability_below", "mc_error", "field_days", "cost",
    "expected_loss", "loss_mc_error", "currency", "gate", "fit", "seed"
)  # fmt: skip
NEEDED_COLUMNS = (
    "lake", "season", "wanted_probability", "pulls", "pulls_low", "pulls_high", "cost", "cost_low",
    "cost_high"
)  # fmt: skip


def pull_frame(lakes: Sequence[LakeAhead], fit: str, seed: int) -> pd.DataFrame:
    """Return one row for each pull to come, and row 0 for now; columns `COLUMNS`.

    Parameters
    ----------
    lakes : sequence of LakeAhead
    """
    rows = [{**row, "fit": fit, "seed": seed} for lake in lakes for row in _rows(lake)]
    return pd.DataFrame(rows, columns=list(COLUMNS))


def currency_of(frame: pd.DataFrame) -> tuple[str, ...]:
    """Return the currency of a table of pulls to come; nothing if nobody named one."""
    named = frame["currency"].iloc[0]
    return (named,) if isinstance(named, str) and named else ()


def needed_frame(lakes: Sequence[LakeAhead], wanted: Sequence[float]) -> pd.DataFrame:
    """Return the pulls needed for wanted probabilities; columns `NEEDED_COLUMNS`."""
    rows = []
    for lake in lakes:
        for share in wanted if lake.weight is not None else ():
            row: dict[str, Any] = {
                "lake": lake.lake,
                "season": lake.season,
                "wanted_probability": share,
            }
            if lake.shown:
                for name, pulls in zip(("", "_low", "_high"), lake.needed(share), strict=True):
                    row[f"pulls{name}"] = np.nan if pulls is None else pulls
                    if lake.cost is not None and pulls is not None:
                        row[f"cost{name}"] = lake.cost[pulls]
            rows.append(row)
    return pd.DataFrame(rows, columns=list(NEEDED_COLUMNS))


def _rows(lake: LakeAhead) -> list[dict[str, Any]]:
    rows = []
    days = lake.schedule.field_days
    for pull in range(lake.pulls + 1):
        row: dict[str, Any] = {
            "lake": lake.lake,
            "season": lake.season,
            "pull": pull,
            "field_days": int(days[pull - 1]) if pull else 0,
            "threshold_kg_per_ha": lake.threshold,
            "currency": lake.terms.currency,
            "gate": lake.failure or "passed",
        }
        if lake.cost is not None:
            row["cost"] = lake.cost[pull]
        if pull:
            row["date"] = str(lake.schedule.date[pull - 1])
            row["net"] = lake.schedule.net[pull - 1]
            row |= named_points("temperature_{}_c", lake.temperature[:, :, pull - 1])
            row["colder_than_readings"] = bool(lake.colder[pull - 1])
        if lake.shown:
            row |= _told(lake, pull)
        rows.append(row)
    return rows


def _told(lake: LakeAhead, pull: int) -> dict[str, Any]:
    row = named_points("fish_left_{}", lake.fish[:, :, pull])
    if pull:
        row |= named_points("catch_{}", lake.catch[:, :, pull - 1])
        if lake.expected_kg is not None:
            row["catch_expected_kg"], row["catch_mc_error_kg"] = lake.expected_kg[:, pull - 1]
    if lake.biomass is not None and lake.below is not None:
        row |= named_points("biomass_{}_kg_per_ha", lake.biomass[:, :, pull])
        row |= {"probability_below": lake.below[0, pull], "mc_error": lake.below[1, pull]}
    if lake.losses is not None:
        row |= {"expected_loss": lake.losses.mean[pull], "loss_mc_error": lake.losses.error[pull]}
    return row
