"""The tables of a fit: verdicts, fish, evidence, removals, effort, bycatch, every estimate."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from fishdown.display.table import (
    ABSENT,
    PLACE,
    POINTS,
    WITHHELD,
    Cell,
    Column,
    Table,
    tenths,
    whole,
    words,
)
from fishdown.intervals import INTERVAL
from fishdown.posterior.quantities import COMMON, QUANTITIES
from fishdown.records.tables import rows_of
from fishdown.statements.estimates import ALL_LAKES
from fishdown.words import amount, percent, percent_with_error, with_error

if TYPE_CHECKING:
    from collections.abc import Iterable

    from fishdown.display.table import Source
    from fishdown.models.spec import ModelSpec

BIOMASS = ("biomass_median_kg_per_ha", "biomass_low_kg_per_ha", "biomass_high_kg_per_ha")
# So that no date is broken.
HYPHEN = "\N{NON-BREAKING HYPHEN}"
ERROR = "± is the standard error of the computation."


def verdicts_table(verdicts: Source) -> Table:
    """Lay out `Fit.verdicts`: of a year without netting one row says all."""
    frame = verdicts.frame
    numbers = ["lake", "season", "biomass_median_kg_per_ha", "probability_below"]
    idle = frame.duplicated(numbers, keep=False) & frame["probability_below"].notna()
    rows = []
    for row in np.flatnonzero(~(idle & frame.duplicated(numbers))).tolist():
        absent = verdicts.missing(row)
        chance = verdicts.chance(row, absent=absent)
        if chance.has_numbers:
            chance = Cell((*verdicts.words(row, "words").lines, *chance.lines))
        rows.append(
            (
                *verdicts.place(row),
                words("none") if idle.iloc[row] else verdicts.words(row, "when"),
                verdicts.cell(row, "area_ha"),
                verdicts.cell(row, "threshold_kg_per_ha"),
                verdicts.cell(row, BIOMASS, absent=absent),
                chance,
                verdicts.words(row, "gate"),
            )
        )
    limits = " or ".join(amount(float(limit)) for limit in frame["threshold_kg_per_ha"].unique())
    return Table(
        "Biomass density before and after netting: median and 90 % interval",
        (
            *PLACE,
            Column("Netting", "whole"),
            Column("Area, ha", "number", roomy=True),
            Column("Threshold, kg/ha", "number", roomy=True),
            Column("Biomass density, kg/ha", "number"),
            Column("Below the threshold?", "whole"),
            Column("Checks", roomy=True),
        ),
        tuple(rows),
        f"Threshold {limits} kg/ha. {ERROR}",
        heads=3,
    )


# quantity → its heading, and what the number is multiplied by
_QUANTITIES = {
    "abundance_before": ("Fish\nbefore", 1.0),
    "abundance_after": ("Fish\nafter", 1.0),
    "removed_share": ("Removed,\n%", 100.0),
    "catchability_at_reference": ("One pull\ntakes, %", 100.0),
    "temperature_effect": ("10 °C\ncolder, ×", 1.0),
    "mean_weight": ("Mean\nweight, kg", 1.0),
}
FOR_MANAGERS = ("abundance_before", "abundance_after", "removed_share", "mean_weight")
FOR_CREWS = (
    "abundance_before",
    "removed_share",
    "catchability_at_reference",
    "temperature_effect",
    "mean_weight",
)


def fish_table(
    estimates: Source, verdicts: Source, quantities: tuple[str, ...], reference: float
) -> Table:
    """Lay out quantities of `Fit.estimates`, one row a season of `Fit.verdicts`.

    Parameters
    ----------
    estimates, verdicts : Source
    quantities : tuple of str
        `FOR_MANAGERS` or `FOR_CREWS`.
    reference : float
        Temperature that catchability is stated at, °C.
    """
    frame = estimates.frame
    row_of = {
        place: row
        for row, place in enumerate(
            zip(frame["lake"], frame["season"], frame["quantity"], strict=True)
        )
    }
    told = verdicts.frame["lake"], verdicts.frame["season"]
    rows = []
    for season in dict.fromkeys(zip(*told, strict=True)):
        found = [row_of.get((*season, name)) for name in quantities]
        withheld = any(row is not None and pd.isna(frame["median"].iloc[row]) for row in found)
        absent = WITHHELD if withheld else ABSENT
        cells = [
            words(absent)
            if row is None
            else estimates.cell(row, POINTS, times=_QUANTITIES[name][1], absent=absent)
            for name, row in zip(quantities, found, strict=True)
        ]
        rows.append((*(words(str(part)) for part in season), *cells))
    # What nothing can be said of in any season has no column.
    kept = [place for place, name in enumerate(quantities) if name in set(frame["quantity"])]
    columns = [Column(_QUANTITIES[quantities[place]][0], "number") for place in kept]
    return Table(
        "Fish in the lake: median and 90 % interval",
        (*PLACE, *columns),
        tuple((*row[:2], *(row[2 + place] for place in kept)) for row in rows),
        f"One pull takes: share of the lake's fish, at {reference:g} °C. 10 °C colder: what is "
        "left of that share."
        if "temperature_effect" in {quantities[place] for place in kept}
        else "",
    )


def common_table(estimates: pd.DataFrame, parts: pd.DataFrame, spec: ModelSpec) -> Table:
    """Lay out what all lakes have in common, beside what was supposed of it before."""
    by_quantity = parts.set_index("quantity")
    rows = []
    for row in rows_of(estimates[estimates["quantity"].isin(COMMON)]):
        low, high = spec.priors[row.quantity].interval(INTERVAL)
        quantity = QUANTITIES[row.quantity]
        part = by_quantity.loc[row.quantity]
        rows.append(
            (
                words(f"{quantity.meaning} ({quantity.unit})"),
                words(amount(row.median)),
                words(f"{amount(row.low)}–{amount(row.high)}"),
                words(f"{amount(low)}–{amount(high)}"),
                words(percent_with_error(part["prior_part"], part["mc_error"])),
            )
        )
    return Table(
        "The same for all pulls: median and 90 % interval, and what the prior supposed",
        (
            Column("Quantity"),
            Column("Median", "number"),
            Column("90 % interval", "number"),
            Column("Prior", "number"),
            Column("Prior's\npart, %", "number"),
        ),
        tuple(rows),
        "Prior's part: how much of the answer is the prior (posterior over prior variance).",
    )


def evidence_table(evidence: Source) -> Table:
    """Lay out abundance by marks alone, by catches alone and by both."""
    frame = evidence.frame
    place_of: dict[tuple[str, str], dict[str, int]] = {}
    for row, (lake, season, kind) in enumerate(
        zip(frame["lake"], frame["season"], frame["evidence"], strict=True)
    ):
        place_of.setdefault((lake, season), {})[kind] = row
    rows = []
    for rows_of_season in place_of.values():
        first = next(iter(rows_of_season.values()))
        cells = [
            evidence.cell(row, POINTS, absent=evidence.missing(row))
            for row in (rows_of_season[kind] for kind in ("marks", "depletion", "both"))
        ]
        agreement = evidence.cell(first, "agreement", show=percent)
        rows.append((*evidence.place(first), *cells, agreement))
    return Table(
        "Fish before netting, by evidence: median and 90 % interval",
        (
            *PLACE,
            Column("Marks alone", "number"),
            Column("Catches alone", "number"),
            Column("Both", "number"),
            Column("Agreement", "number"),
        ),
        tuple(rows),
        "Agreement: how often chance alone would part marks and catches this far.",
    )


def removals_table(removals: Source) -> Table:
    """Lay out the fish and kg still to remove, by wanted probability."""
    frame = removals.frame
    wanted = sorted(frame["wanted_probability"].unique())
    row_of = {
        place: row
        for row, place in enumerate(
            zip(frame["lake"], frame["season"], frame["wanted_probability"], strict=True)
        )
    }
    places = dict.fromkeys(zip(frame["lake"], frame["season"], strict=True))
    rows = tuple(
        (
            words(lake),
            words(season),
            *(_remaining(removals, row_of[lake, season, p]) for p in wanted),
        )
        for lake, season in places
    )
    return Table(
        "Still to remove to be below the threshold with a probability of …",
        (*PLACE, *(Column(percent(p), "number") for p in wanted)),
        rows,
        ERROR,
    )


def _remaining(removals: Source, row: int) -> Cell:
    """Return fish, and below them kg, each with its error."""
    fewest, error, kg_error = removals.frame[["fish", "fish_mc_error", "kg_mc_error"]].iloc[row]
    if pd.isna(fewest):
        return words(WITHHELD)
    if fewest == error == 0:
        return removals.cell(row, "fish", show=lambda _: "none")
    fish = removals.number(row, "fish", lambda value: with_error(value, error, whole=True))
    kg = removals.number(row, "kg", lambda value: with_error(value, kg_error))
    return Cell(((fish, " fish"), (kg, " kg")))


def effort_table(effort: Source) -> Table:
    """Lay out what was done and taken."""
    counts = ("days", "nets", "pulls", "spoiled", "marked", "recaptured", "caught", "removed")
    rows = []
    for row in range(len(effort.frame)):
        days = f"{effort.frame['first_day'].iloc[row]} to {effort.frame['last_day'].iloc[row]}"
        rows.append(
            (
                *effort.place(row),
                words(days.replace("-", HYPHEN)),
                *(effort.cell(row, name, show=whole) for name in counts),
                effort.cell(row, ("removed_median_kg", "removed_low_kg", "removed_high_kg")),
            )
        )
    return Table(
        "Effort and catch, as counted",
        (
            *PLACE,
            Column("First to last pull"),
            *_numbers(
                "Netting days",
                "Nets",
                "Pulls",
                "Failed pulls",
                "Fish marked",
                "Marked fish seen again",
                "Fish caught",
                "Fish removed",
                "Removed, kg",
            ),
        ),
        tuple(rows),
        "Kilograms are the fish removed times their mean weight: median and 90 % interval.",
    )


def bycatch_table(bycatch: Source) -> Table:
    """Lay out the bycatch by species."""
    rate = ("per_pull_median", "per_pull_low", "per_pull_high")
    share = ("dead_share_median", "dead_share_low", "dead_share_high")
    rows = tuple(
        (
            *bycatch.place(row),
            bycatch.words(row, "species"),
            bycatch.cell(row, "count", show=whole),
            bycatch.cell(row, rate),
            bycatch.cell(row, "dead", show=whole, absent="not noted"),
            bycatch.cell(row, "dead_empty", show=whole, absent="all"),
            bycatch.cell(row, share, show=tenths, times=100.0, absent="not noted"),
        )
        for row in range(len(bycatch.frame))
    )
    return Table(
        "Bycatch as counted; the mean of a pull, and the dead in percent of the fish counted: "
        "median and 90 % interval",
        (
            *PLACE,
            Column("Species"),
            *_numbers("Counted", "Fish a pull", "Dead", "Without entry", "Dead, %"),
        ),
        rows,
        "A row without an entry of the dead counts as none dead where other rows of the season "
        "have one.",
        heads=3,
    )


def estimates_table(estimates: Source) -> Table:
    """Lay out every reported quantity with its convergence."""
    frame = estimates.frame
    rows = []
    for row in range(len(frame)):
        lake, season = estimates.place(row)
        rows.append(
            (
                lake,
                words("all") if frame["lake"].iloc[row] == ALL_LAKES else season,
                words(str(frame["quantity"].iloc[row]).replace("_", " ")),
                estimates.words(row, "unit"),
                estimates.cell(row, POINTS, absent=WITHHELD),
                estimates.cell(row, "mean", absent=WITHHELD),
                estimates.cell(row, "sd", absent=WITHHELD),
                estimates.cell(row, "rhat", show=lambda value: f"{value:.4f}"),
                estimates.cell(row, "ess_bulk", show=whole),
                estimates.cell(row, "ess_tail", show=whole),
            )
        )
    headings = ("Median and 90 % interval", "Mean", "SD", "R-hat", "Bulk ESS", "Tail ESS")
    return Table(
        "Every reported quantity with its convergence",
        (*PLACE, Column("Quantity"), Column("Unit"), *_numbers(*headings)),
        tuple(rows),
        heads=3,
    )


# The quantities of the truth table: name in the file → words that fit 80 columns, and what the
# number is multiplied by.
_TRUTHS = {
    "abundance_before": ("fish before", 1.0),
    "catchability_at_reference": ("one pull, %", 100.0),
    "temperature_effect": ("10 °C colder, ×", 1.0),
    "biomass_after": ("kg/ha after", 1.0),
}


def truth_table(estimates: pd.DataFrame, truth: pd.DataFrame) -> Table:
    """Lay out an invented truth beside what the fit says of it."""
    joined = truth.merge(estimates, on=["lake", "season", "quantity"], how="inner")
    joined["inside"] = (joined["low"] <= joined["value"]) & (joined["value"] <= joined["high"])
    rows = []
    for row in rows_of(joined[joined["quantity"].isin(list(_TRUTHS))]):
        name, scale = _TRUTHS[row.quantity]
        told = [WITHHELD, "", ""]
        if not pd.isna(row.median):
            low, median, high = (amount(scale * value) for value in (row.low, row.median, row.high))
            told = [median, f"{low}–{high}", "yes" if row.inside else "no"]
        rows.append(tuple(map(words, (row.lake, name, amount(scale * row.value), *told))))
    return Table(
        "The invented truth beside the fit",
        (
            Column("Lake"),
            Column("Quantity"),
            *_numbers("Truth", "Median", "90 % interval"),
            Column("Inside?"),
        ),
        tuple(rows),
        f"Of {joined['median'].notna().sum()} known quantities, {joined['inside'].sum()} lie "
        "inside their 90 % interval.",
    )


def _numbers(*headings: str) -> Iterable[Column]:
    return (Column(heading, "number") for heading in headings)
