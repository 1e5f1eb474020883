"""What a projection depends on: how recruits and survival answer to netting, and the recruits."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from fishdown.decisions.projection import Removal, least_removals, project, shares_below
from fishdown.decisions.years_words import HELD, supposed, taken
from fishdown.intervals import named_points
from fishdown.records.tables import rows_of
from fishdown.statements.probability import probability_below
from fishdown.units import label, shown
from fishdown.words import amount, listed_names, with_error

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from fishdown.decisions.projection import Stock
    from fishdown.typing import FloatArray

# A row a lake, scenario and assumption, at the end of the last year.
COLUMNS = (
    "lake", "last_season", "young", "removal_kind", "removal_a_year", "years_ahead", "year",
    "threshold_kg_per_ha", "assumption", "used", "recruits_median_fish_per_ha",
    "biomass_median_kg_per_ha", "biomass_low_kg_per_ha", "biomass_high_kg_per_ha",
    "probability_below", "mc_error", "fish_a_year_for_80", "fish_a_year_for_80_mc_error",
    "rates_from_prior", "gate", "fit", "seed"
)  # fmt: skip
# Assumptions on what netting changes → in words.
ANSWERS = {
    "steady": "recruitment and survival do not depend on the fish left",
    "stock": "recruitment depends on the fish left",
    "compensation": "natural mortality falls after netting",
    "stock and compensation": "both do",
}
# Points of the prior of recruitment, by their names.
POINTS = {"recruits 10 %": 0.1, "recruits 50 %": 0.5, "recruits 90 %": 0.9}


def assumption_rows(
    stock: Stock,
    young: FloatArray,
    average: FloatArray,
    replacement: FloatArray | None,
    removal: Removal,
    base: dict[str, Any],
    *,
    usual_area: float,
    shape: FloatArray,
    compensation: FloatArray,
) -> list[dict[str, Any]]:
    """Project a lake and scenario under each assumption, on the same draws.

    Parameters
    ----------
    stock : Stock
        As in the projection itself.
    young : ndarray, shape (year, chain, draw)
        As in `project`.
    average : ndarray, shape (chain, draw)
        Recruits of an average year at the lake's level, fish.
    replacement : ndarray, shape (chain, draw), or None
        Recruits of an average year, ratio to the natural deaths at the lake's level, where a prior
        alone tells them; None elsewhere.
    usual_area : float
        Of the lake, to which recruits per hectare refer, ha.
    shape, compensation : ndarray, shape (chain, draw)
        As in `Stock`, for the assumptions that have them.
    """
    threshold = base["threshold_kg_per_ha"]
    first = max(1.0, float(np.quantile(project(stock, young, Removal()).fish[0], 0.9)))
    used = _used(stock)
    rows = []
    for name, lake, times in _assumed(stock, replacement, shape, compensation):
        recruits = young * times
        density = project(lake, recruits, removal).kg[-1] / lake.area
        probability, error = probability_below(density, threshold)
        needed, its_error = _needed(lake, recruits, threshold, first)
        rows.append(
            {
                **base,
                "assumption": name,
                "used": "yes" if name == used else "no",
                "recruits_median_fish_per_ha": float(np.median(average * times)) / usual_area,
                **named_points("biomass_{}_kg_per_ha", density),
                "probability_below": probability,
                "mc_error": error,
                "fish_a_year_for_80": float(np.ceil(needed)),
                "fish_a_year_for_80_mc_error": its_error,
            }
        )
    return rows


def _needed(
    lake: Stock, recruits: FloatArray, threshold: float, first: float
) -> tuple[float, float]:
    """Return the least fish a year for the first of `HELD` in every year, and its error.

    As `held_removals`, but for the hardest year alone, which takes fewer projections.
    """
    wanted = HELD[0]

    @cache
    def below(fish: float) -> FloatArray:
        ends = project(lake, recruits, Removal("fish", fish))
        return shares_below(lake, ends, threshold).min(keepdims=True)

    least = float(least_removals(below, (wanted,), first)[0, 0])
    ends = project(lake, recruits, Removal("fish", least))
    hardest = int(shares_below(lake, ends, threshold).argmin())
    off = probability_below(ends.kg[hardest] / lake.area, threshold)[1]
    # No share of draws is larger than this.
    most = (lake.fish.size + 0.5) / (lake.fish.size + 1.0)
    around = np.clip((wanted - off, wanted + off), 0.0, most)
    less, more = least_removals(below, around, first)[:, 0].tolist()
    return least, 0.5 * (more - less)


def _used(stock: Stock) -> str:
    parts = {"stock": stock.stock_shape, "compensation": stock.compensation}
    return " and ".join(name for name, part in parts.items() if part is not None) or "steady"


def _assumed(
    stock: Stock,
    replacement: FloatArray | None,
    shape: FloatArray,
    compensation: FloatArray,
) -> Iterator[tuple[str, Stock, FloatArray]]:
    """Yield each assumption, the lake under it, and what recruits are multiplied by."""
    for name in ANSWERS:
        lake = replace(
            stock,
            stock_shape=shape if "stock" in name else None,
            compensation=compensation if "compensation" in name else None,
        )
        yield name, lake, np.ones(stock.fish.shape)
    if replacement is not None:
        for name, point in POINTS.items():
            yield name, stock, np.quantile(replacement, point) / replacement


def dependence_sentences(frame: pd.DataFrame) -> tuple[str, ...]:
    """State what the projection of each lake and scenario depends on.

    Parameters
    ----------
    frame : pandas.DataFrame
        Columns `COLUMNS`.
    """
    said = []
    told = frame[frame["probability_below"].notna()]
    for _, group in told.groupby(["lake", "young"], sort=False):
        answers = group[group["assumption"].isin(ANSWERS)]
        said.append(_by_answer(answers))
        points = group[group["assumption"].isin(POINTS)]
        if len(points):
            said.append(_by_point(points))
    return tuple(said)


def _by_answer(group: pd.DataFrame) -> str:
    first = group.iloc[0].to_dict()
    parts = []
    for row in rows_of(group):
        fish, error = float(row.fish_a_year_for_80), float(row.fish_a_year_for_80_mc_error)
        needed = f"{with_error(fish, error, whole=True)} fish a year" if fish else "none"
        mark = " (as in this projection)" if row.used == "yes" else ""
        parts.append(f"{needed} if {ANSWERS[str(row.assumption)]}{mark}")
    goal = (
        f"to keep {first['lake']} below {_density(first['threshold_kg_per_ha'])} {label('kg/ha')} "
        f"at the end of each year to {first['year']:.0f} with a probability of "
        f"{100 * HELD[0]:.0f} %"
    )
    opening = f"{_warning(first)}If {supposed(first | {'rates_from_prior': ''})}"
    if not group["fish_a_year_for_80"].any():
        return (
            f"{opening}: {goal}, no removal is needed, whether or not recruitment depends on the "
            "fish left and natural mortality falls after netting."
        )
    return (
        f"{opening}: {goal}, the removal needed is {listed_names(parts)} (± standard error of "
        "the computation)."
    )


def _by_point(group: pd.DataFrame) -> str:
    first = group.iloc[0].to_dict()
    unit = label("kg/ha")
    parts, recruits = [], []
    for row in rows_of(group):
        low, median, high = (
            _density(getattr(row, f"biomass_{point}_kg_per_ha"))
            for point in ("low", "median", "high")
        )
        parts.append(f"{median} {unit} (90 % interval {low} to {high})")
        recruits.append(amount(shown(float(row.recruits_median_fish_per_ha), "fish/ha")))
    return (
        f"{_warning(first)}No record tells the recruitment of {first['lake']}, so its forecast "
        f"depends on what is assumed of it: if {supposed(first)} and {taken(first)}, the lake "
        f"holds {listed_names(parts)} at the end of {first['year']:.0f} at the 10 %, 50 % and "
        f"90 % point of the assumed recruitment ({listed_names(recruits)} {label('fish/ha')} a "
        "year)."
    )


def _warning(row: Mapping[Any, Any]) -> str:
    return "" if row["gate"] == "passed" else f"WARNING, the gate failed ({row['gate']}): "


def _density(value: Any) -> str:
    return amount(shown(float(value), "kg/ha"))
