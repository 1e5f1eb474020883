"""The rule with checks and the constant removal as rows of a table, and in sentences."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from fishdown.decisions.years_words import HELD, supposed
from fishdown.intervals import low_median_high, named_points
from fishdown.units import label, shown
from fishdown.words import amount, counted, listed_names, percent_with_error, with_error

if TYPE_CHECKING:
    from fishdown.decisions.harvest_rules import Checks, Rule
    from fishdown.typing import FloatArray

WANTED = HELD[0]
_BASE = ("lake", "last_season", "young", "rule")
_POINTS = ("mean", "mc_error", "low", "high")
_UNITS = ("fish", "kg")
_TAKEN = tuple(f"{unit}_removed_{point}" for unit in _UNITS for point in _POINTS)
_END = ("gate", "fit", "seed")
# A row a lake, scenario and rule. What is fewer is the constant removal less that with checks.
COLUMNS = (
    *_BASE, "first_year", "years", "threshold_kg_per_ha", "check_every_years", "check_error",
    "most_share_a_year", "target_kg_per_ha", "target_mc_error_kg_per_ha", "fish_a_year",
    "fish_a_year_mc_error", "probability_wanted", "reached", "probability_below", "mc_error",
    "biomass_median_kg_per_ha", "biomass_low_kg_per_ha", "biomass_high_kg_per_ha",
    *_TAKEN, *(f"years_netted_{point}" for point in _POINTS),
    *(f"{unit}_fewer_{point}" for unit in _UNITS for point in _POINTS),
    "rates_from_prior", "statement", *_END
)  # fmt: skip
# A row a lake, scenario, rule and year.
YEAR_COLUMNS = (
    *_BASE, "years_ahead", "year", "probability_below", "mc_error", "probability_netted",
    "probability_netted_mc_error", *_TAKEN, "rates_from_prior", *_END
)  # fmt: skip
# Fish or kg, below which nothing is removed.
NOTHING = 1e-6
# Rule → how tables and figures name it.
RULES = {"checks": "with checks", "constant": "constant removal"}


def total_rows(
    base: dict[str, Any], checks: Checks, rules: tuple[Rule, Rule], area: float
) -> list[dict[str, Any]]:
    """Return a row for each rule, over all years.

    Parameters
    ----------
    base : dict
        What the rows of the lake and scenario have in common.
    area : float
        ha.
    """
    rows = []
    for rule in rules:
        fish, kg = _taken(rule)
        least = int(rule.below.argmin())
        row = {
            **base,
            "rule": rule.name,
            "years": len(fish),
            "check_every_years": checks.every,
            "check_error": checks.error,
            "most_share_a_year": checks.most,
            "probability_wanted": WANTED,
            "reached": "yes" if rule.reached else "no",
            "probability_below": rule.below[least],
            "mc_error": rule.below_error[least],
            **named_points("biomass_{}_kg_per_ha", rule.ends.kg[-1] / area),
            **_points("fish_removed", fish.sum(axis=0)),
            **_points("kg_removed", kg.sum(axis=0)),
            **_points("years_netted", (fish > NOTHING).sum(axis=0).astype(float)),
        }
        if np.isfinite(rule.amount):
            names = {
                "checks": ("target_kg_per_ha", "target_mc_error_kg_per_ha"),
                "constant": ("fish_a_year", "fish_a_year_mc_error"),
            }[rule.name]
            row |= dict(zip(names, (rule.amount, rule.amount_error), strict=True))
        rows.append(row)
    for unit, less, more in zip(_UNITS, *map(_taken, rules), strict=True):
        fewer = (more - less).sum(axis=0)
        # Where both take all that nets can, they differ by the rounding of the computer.
        fewer[np.abs(fewer) < NOTHING] = 0.0
        rows[0] |= _points(f"{unit}_fewer", fewer)
    return [{**row, "statement": statement(row)} for row in rows]


def year_rows(base: dict[str, Any], rules: tuple[Rule, Rule]) -> list[dict[str, Any]]:
    """Return a row for each rule and year."""
    rows = []
    for rule in rules:
        for year, (fish, kg) in enumerate(zip(*_taken(rule), strict=True)):
            netted, error = _mean((fish > NOTHING).astype(float))
            row = {
                **base,
                "rule": rule.name,
                "years_ahead": year + 1,
                "year": base["first_year"] + year,
                "probability_below": rule.below[year],
                "mc_error": rule.below_error[year],
                # Half a draw towards the middle, as every probability here.
                "probability_netted": (netted * fish.size + 0.5) / (fish.size + 1.0),
                "probability_netted_mc_error": error,
                **_points("fish_removed", fish),
                **_points("kg_removed", kg),
            }
            rows.append(row)
    return rows


def statement(row: dict[str, Any]) -> str:
    """State a row of `total_rows` in a few sentences."""
    unit, last = label("kg/ha"), row["first_year"] + row["years"] - 1
    threshold = f"{amount(shown(float(row['threshold_kg_per_ha']), 'kg/ha'))} {unit}"
    each = f"at the end of each year to {last}"
    chance = percent_with_error(row["probability_below"], row["mc_error"])
    wanted = f"{100 * row['probability_wanted']:.0f} %"
    opening = f"If {supposed(row)}"
    if row["fish_removed_high"] == 0.0 and row["reached"] == "yes":
        return (
            f"{opening}: no removal is needed to keep {row['lake']} below {threshold} {each} with "
            f"a probability of {wanted}; in the least favourable year it is {chance}."
        )
    outcome = f"The probability of being below {threshold} {each} is then {chance} or more"
    if row["reached"] == "no":
        outcome = (
            f"This is not enough for a probability of {wanted} of being below {threshold} {each}: "
            f"it is as low as {chance}"
        )
    density = [
        amount(shown(float(row[f"biomass_{point}_kg_per_ha"]), "kg/ha"))
        for point in ("median", "low", "high")
    ]
    return (
        f"{opening}: {_way(row)}. {outcome}. {_removed(row)}{_difference(row)} At the end of "
        f"{last} {row['lake']} holds {density[0]} {unit} (90 % interval {density[1]} to "
        f"{density[2]})."
    )


def _way(row: dict[str, Any]) -> str:
    most = f"{100 * row['most_share_a_year']:.3g} % of the fish"
    if row["rule"] == "constant":
        if "fish_a_year" not in row:
            return f"in {row['lake']} nets take all that they can every year, {most}"
        fish = with_error(row["fish_a_year"], row["fish_a_year_mc_error"], whole=True)
        return f"{fish} fish are removed from {row['lake']} every year, at most {most}"
    checked = range(row["first_year"], row["first_year"] + row["years"], row["check_every_years"])
    target, error = (
        shown(float(row[name]), "kg/ha")
        for name in ("target_kg_per_ha", "target_mc_error_kg_per_ha")
    )
    far = f"as far as the estimate exceeds {with_error(target, error)} {label('kg/ha')}"
    return (
        f"{row['lake']} is checked before the netting of {listed_names(checked)} (coefficient of "
        f"variation of the estimate of biomass {100 * row['check_error']:.2g} %) and netted "
        f"{far if target else 'whatever the estimate'}, at most {most} a year"
    )


def _removed(row: dict[str, Any]) -> str:
    fish, kg = _amounts(row, "removed")
    years = f"{row['years_netted_mean']:.1f}"
    if row["years_netted_mc_error"]:
        years = with_error(row["years_netted_mean"], row["years_netted_mc_error"])
    return (
        f"In all this removes {with_error(*fish[:2], whole=True)} fish on average (90 % interval "
        f"{amount(fish[2])} to {amount(fish[3])}) or {with_error(*kg[:2])} {label('kg')} "
        f"({amount(kg[2])} to {amount(kg[3])}), with netting in {years} of "
        f"{counted(row['years'], 'year')} ({row['years_netted_low']:.0f} to "
        f"{row['years_netted_high']:.0f})."
    )


def _difference(row: dict[str, Any]) -> str:
    """Compare the rule with checks with the constant removal; nothing for the latter."""
    if row["rule"] != "checks":
        return ""
    told = []
    for unit, (mean, error, low, high) in zip(_UNITS, _amounts(row, "fewer"), strict=True):
        middle = with_error(abs(mean), error, whole=unit == "fish")
        told.append(
            f"{middle} {label(unit)} {_side(mean)} on average (90 % interval {_end(low)} to "
            f"{_end(high)})"
        )
    return (
        f" The rule with checks removes {' and '.join(told)} than the constant removal in the same "
        "simulated years; what the checks cost is not counted."
    )


def _side(fewer: float) -> str:
    return "less" if fewer > 0 else "more"


def _end(fewer: float) -> str:
    return f"{amount(abs(fewer))} {_side(fewer)}" if fewer else "0"


def _amounts(row: dict[str, Any], what: str) -> tuple[list[float], list[float]]:
    """Return mean, error, low and high in fish and in the unit of weight that is shown."""
    fish, kg = ([float(row[f"{unit}_{what}_{point}"]) for point in _POINTS] for unit in _UNITS)
    return fish, [float(shown(value, "kg")) for value in kg]


def _taken(rule: Rule) -> tuple[FloatArray, FloatArray]:
    """Return the fish and kg that netting takes, each of shape (year, chain, draw)."""
    return rule.ends.netted, rule.ends.netted * rule.ends.weight


def _points(name: str, draws: FloatArray) -> dict[str, float]:
    mean, error = _mean(draws)
    low, _, high = low_median_high(draws).tolist()
    return dict(
        zip((f"{name}_{point}" for point in _POINTS), (mean, error, low, high), strict=True)
    )


def _mean(draws: FloatArray) -> tuple[float, float]:
    """Return the mean and its Monte-Carlo standard error; draws of shape (chain, draw)."""
    from arviz_stats.base import array_stats

    if draws.min() == draws.max():
        return float(draws.flat[0]), 0.0
    effective = float(array_stats.ess(draws, method="mean"))
    return float(draws.mean()), float(draws.std() / np.sqrt(effective))
