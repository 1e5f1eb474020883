"""Tables of a budget: each split lake by lake, and what smaller budgets would do."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from fishdown.decisions.budget_lakes import kg_above, lakes_below
from fishdown.intervals import named_points
from fishdown.labels import ALL_LAKES
from fishdown.statements.probability import probability_below

if TYPE_CHECKING:
    from fishdown.decisions.budget_lakes import LakeDays
    from fishdown.decisions.budget_splits import Split, Splits

COLUMNS = (
    "split", "lake", "season", "field_days", "field_days_low", "field_days_high", "pulls", "cost",
    "currency", "catch_median", "catch_low", "catch_high", "threshold_kg_per_ha",
    "biomass_median_kg_per_ha", "biomass_low_kg_per_ha", "biomass_high_kg_per_ha",
    "probability_below_now", "now_mc_error", "probability_below", "mc_error", "lakes_below",
    "lakes_below_mc_error", "kg_above", "kg_above_mc_error", "lakes_behind_best",
    "lakes_behind_best_mc_error", "kg_behind_best", "kg_behind_best_mc_error", "told_apart", "aim",
    "gate", "fit", "seed"
)  # fmt: skip
CURVE_COLUMNS = (
    "limit", "most", "aim",
    *(
        f"{what}_{split}{error}"
        for what in ("lakes_below", "kg_above")
        for split in ("best", "equal")
        for error in ("", "_mc_error")
    ),
)  # fmt: skip
SPLITS = ("best", "equal", "nearest", "none")


def split_frame(splits: Splits, fit: str, seed: int) -> pd.DataFrame:
    """Return a row for each lake of each split, and one for all lakes; columns `COLUMNS`."""
    rows = []
    for name in SPLITS:
        split: Split = getattr(splits, name)
        given = dict(zip((lake.lake for lake in splits.sharing), split, strict=True))
        found = [_lake_row(lake, given.get(lake.lake, 0)) for lake in splits.lakes]
        found.append(_all_row(splits, split))
        if name == "best":
            del found[-1]["told_apart"]
            _add_ranges(splits, found)
        common = {
            "split": name, "currency": splits.currency, "aim": splits.aim, "fit": fit, "seed": seed
        }  # fmt: skip
        rows += [{**row, **common} for row in found]
    return pd.DataFrame(rows, columns=list(COLUMNS))


def curve_frame(splits: Splits) -> pd.DataFrame:
    """Return a row for each budget up to the whole; columns `CURVE_COLUMNS`."""
    rows = []
    for most, *both in splits.smaller if splits.sharing else ():
        row: dict[str, Any] = {
            "limit": "cost" if splits.days is None else "field_days",
            "most": most,
            "aim": splits.aim,
        }
        for name, split in zip(("best", "equal"), both, strict=True):
            for what, of in (("lakes_below", lakes_below), ("kg_above", kg_above)):
                row[f"{what}_{name}"], row[f"{what}_{name}_mc_error"] = of(splits.sharing, split)
        rows.append(row)
    return pd.DataFrame(rows, columns=list(CURVE_COLUMNS))


def _lake_row(lake: LakeDays, days: int) -> dict[str, Any]:
    row: dict[str, Any] = {
        "lake": lake.lake,
        "season": lake.season,
        "field_days": days,
        "pulls": days * lake.pulls_a_day,
        "cost": days * lake.cost_a_day,
        "threshold_kg_per_ha": lake.threshold,
        "gate": lake.failure or "passed",
    }
    if lake.reason:
        return row
    now, then = (probability_below(lake.biomass[:, :, n], lake.threshold) for n in (0, days))
    row |= named_points("catch_{}", lake.catch[:, :, days])
    row |= named_points("biomass_{}_kg_per_ha", lake.biomass[:, :, days])
    row |= {"probability_below_now": now[0], "now_mc_error": now[1]}
    row |= {"probability_below": then[0], "mc_error": then[1]}
    row["kg_above"], row["kg_above_mc_error"] = kg_above([lake], [days])
    return row


def _all_row(splits: Splits, split: Split) -> dict[str, Any]:
    lakes = splits.sharing
    failures = dict.fromkeys(lake.failure for lake in splits.lakes if lake.failure)
    row: dict[str, Any] = {
        "lake": ALL_LAKES,
        "field_days": sum(split),
        "pulls": sum(n * lake.pulls_a_day for n, lake in zip(split, lakes, strict=True)),
        "cost": float(sum(n * lake.cost_a_day for n, lake in zip(split, lakes, strict=True))),
        "gate": "; ".join(failures) or "passed",
    }
    if not lakes:
        return row | {"cost": np.nan, "told_apart": None}
    caught = np.sum([lake.catch[:, :, n] for n, lake in zip(split, lakes, strict=True)], axis=0)
    row |= named_points("catch_{}", caught)
    row["lakes_below"], row["lakes_below_mc_error"] = lakes_below(lakes, split)
    row["kg_above"], row["kg_above_mc_error"] = kg_above(lakes, split)
    short = f"{'lakes' if splits.aim == 'lakes' else 'kg'}_behind_best"
    row[short], row[f"{short}_mc_error"] = splits.behind(split)
    row["told_apart"] = splits.told_apart(split)
    return row


def _add_ranges(splits: Splits, rows: list[dict[str, Any]]) -> None:
    """Add the fewest and the most days that a lake has in splits like the best."""
    mine = [row for row, lake in zip(rows, splits.lakes, strict=False) if not lake.reason]
    for row, days in zip(mine, zip(*splits.alike, strict=True), strict=True):
        row["field_days_low"], row["field_days_high"] = min(days), max(days)
