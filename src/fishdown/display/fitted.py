"""The tables of a fit: verdicts, fish, evidence, removals, effort, every estimate."""

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
from fishdown.labels import ALL_LAKES
from fishdown.posterior.quantities import common, quantities
from fishdown.records.tables import rows_of
from fishdown.statements.in_units import shown_frame
from fishdown.units import label, shown
from fishdown.words import amount, percent, percent_with_error, with_error

if TYPE_CHECKING:
    from collections.abc import Iterable

    from fishdown.display.table import Source
    from fishdown.models.spec import ModelSpec

BIOMASS = ("biomass_median_kg_per_ha", "biomass_low_kg_per_ha", "biomass_high_kg_per_ha")
# Keeps a date on one line.
HYPHEN = "\N{NON-BREAKING HYPHEN}"
ERROR = "± is the standard error of the computation."


def verdicts_table(verdicts: Source) -> Table:
    """Lay out `Fit.verdicts`; a year without netting has one row."""
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
    limits = " or ".join(
        amount(shown(float(limit), "kg/ha")) for limit in frame["threshold_kg_per_ha"].unique()
    )
    return Table(
        "Biomass density before and after netting: median and 90 % credible interval",
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
    "catchability_at_reference": ("Catch-\nability, %", 100.0),
    "temperature_effect": ("Ratio,\n−10 °C", 1.0),
    "mean_weight": ("Mean\nweight, kg", 1.0),
    "mean_weight_left": ("Mean weight\nafter, kg", 1.0),
}
FOR_MANAGERS = (
    "abundance_before", "abundance_after", "removed_share", "mean_weight", "mean_weight_left"
)  # fmt: skip
FOR_CREWS = (
    "abundance_before", "removed_share", "catchability_at_reference", "temperature_effect",
    "mean_weight"
)  # fmt: skip


def fish_table(
    estimates: Source, verdicts: Source, quantities: tuple[str, ...], reference: float
) -> Table:
    """Lay out quantities of `Fit.estimates`, one row a season of `Fit.verdicts`.

    Parameters
    ----------
    quantities : tuple of str
        `FOR_MANAGERS` or `FOR_CREWS`.
    reference : float
        Temperature that catchability is stated at, °C.
    """
    frame = estimates.frame
    row_of = estimates.by_season("quantity")
    # A quantity that is estimated in no season has no column.
    kept = [name for name in quantities if name in set(frame["quantity"])]
    rows = []
    for season in verdicts.by_season("when"):
        found = row_of.get(season, {})
        withheld = any(pd.isna(frame["median"].iloc[found[name]]) for name in kept if name in found)
        absent = WITHHELD if withheld else ABSENT
        cells = [
            estimates.cell(found[name], POINTS, times=_QUANTITIES[name][1], absent=absent)
            if name in found
            else words(absent)
            for name in kept
        ]
        rows.append((*map(words, season), *cells))
    return Table(
        "Fish in the lake: median and 90 % credible interval",
        (*PLACE, *_numbers(*(_QUANTITIES[name][0] for name in kept))),
        tuple(rows),
        f"Catchability: share of the lake's fish that a net's first pull takes at "
        f"{shown(reference, '°C'):g} °C. Ratio, −10 °C: catchability ratio for 10 °C of cooling."
        if "temperature_effect" in kept
        else "",
    )


def common_table(estimates: pd.DataFrame, shares: pd.DataFrame, spec: ModelSpec) -> Table:
    """Lay out the quantities common to all lakes, beside their priors."""
    by_quantity = shares[shares["lake"] == ""].set_index("quantity")
    rows = []
    for row in rows_of(shown_frame(estimates[estimates["quantity"].isin(common())])):
        quantity = quantities()[row.quantity]
        low, high = shown(np.array(spec.priors[row.quantity].interval(INTERVAL)), quantity.unit)
        share = by_quantity.loc[row.quantity]
        rows.append(
            (
                words(label(f"{quantity.meaning} ({quantity.unit})")),
                words(amount(row.median)),
                words(f"{amount(row.low)}–{amount(row.high)}"),
                words(f"{amount(low)}–{amount(high)}"),
                words(percent_with_error(share["prior_share"], share["mc_error"])),
            )
        )
    return Table(
        "Common to all lakes: posterior median, posterior and prior 90 % interval",
        (
            Column("Quantity"),
            *_numbers("Median", "90 % interval", "Prior", "Prior\nshare, %"),
        ),
        tuple(rows),
        "Prior share: share of the uncertainty that the priors determine.",
    )


def evidence_table(evidence: Source) -> Table:
    """Lay out abundance by source of evidence: mark–recapture only, depletion only, joint."""
    rows = []
    for season, found in evidence.by_season("evidence").items():
        cells = [
            evidence.cell(found[kind], POINTS, absent=evidence.missing(found[kind]))
            for kind in ("marks", "depletion", "both")
        ]
        tail = evidence.cell(found["both"], "tail_probability", show=percent)
        rows.append((*map(words, season), *cells, tail))
    return Table(
        "Fish before netting by source of evidence: median and 90 % credible interval",
        (
            *PLACE,
            *_numbers("Mark–recapture\nonly", "Depletion\nonly", "Joint", "Tail\nprobability"),
        ),
        tuple(rows),
        "Tail probability: two-sided, of the difference of the mark–recapture and depletion "
        "estimates; a small value means that they are inconsistent.",
    )


def sources_table(sources: Source) -> Table:
    """Lay out the kinds of evidence of each lake, each by itself."""
    frame = sources.frame
    rows = []
    for row in range(len(frame)):
        unit, counted = frame["unit"].iloc[row], frame["evidence"].iloc[row] == "movements"
        told = frame["says"].iloc[row]
        if unit == "kg" or (unit == "fish" and not counted):
            told = f"{told} ({unit})"
        points = sources.cell(
            row,
            ("estimate", "low", "high"),
            show=whole if counted else amount,
            absent=sources.missing(row),
        )
        amounts = words(str(frame["amount"].iloc[row]), label(str(told)))
        rows.append((*sources.place(row), sources.words(row, "evidence"), amounts, points))
    return Table(
        "Each kind of evidence by itself",
        (
            *PLACE,
            Column("Evidence"),
            Column("How much, and what it says"),
            Column("Estimate,\n90 % interval", "number"),
        ),
        tuple(rows),
        "Shares of fish counted have exact limits (Clopper and Pearson 1934), by chance alone; "
        "tags still there the posterior under a uniform prior; abundance and weight are those of "
        "the fit. The joint fit weighs each by how far it can be wrong: a pen says "
        "nothing on whether marked fish are trap-shy.",
        heads=3,
    )


def elsewhere_table(elsewhere: Source) -> Table:
    """Lay out marked fish of one lake that were seen in another."""
    columns = ("marked", "caught", "heard")
    rows = tuple(
        (
            elsewhere.words(row, "marked_in"),
            elsewhere.words(row, "seen_in"),
            *(elsewhere.cell(row, name, show=whole) for name in columns),
            elsewhere.cell(row, ("share", "share_low", "share_high"), show=tenths, times=100.0),
        )
        for row in range(len(elsewhere.frame))
    )
    return Table(
        "Marked fish seen in another lake than their own",
        (
            Column("Marked in"),
            Column("Seen in"),
            *_numbers("Marked", "In\ncatches", "Heard\nonly", "Seen, %,\n90 % limits"),
        ),
        rows,
        "At least this share of them moved, since not all fish of the other lake were looked at. "
        "Limits are exact (Clopper and Pearson 1934). No estimate on this page uses these fish: "
        "they count as unmarked where they were seen, and as still there where they were marked.",
    )


def removals_table(removals: Source) -> Table:
    """Lay out the additional removal needed, fish and kg, by wanted probability."""
    wanted = sorted(removals.frame["wanted_probability"].unique())
    rows = tuple(
        (*map(words, season), *(_remaining(removals, found[p]) for p in wanted))
        for season, found in removals.by_season("wanted_probability").items()
    )
    return Table(
        "Additional removal needed, by the probability of being below the threshold then",
        (*PLACE, *_numbers(*map(percent, wanted))),
        rows,
        ERROR,
    )


def _remaining(removals: Source, row: int) -> Cell:
    """Return fish, and below them kg, each with its error."""
    fewest, error, kg_error = removals.frame[["fish", "fish_mc_error", "kg_mc_error"]].iloc[row]
    mass_error = shown(kg_error, "kg")
    if pd.isna(fewest):
        return words(WITHHELD)
    if fewest == error == 0:
        return removals.cell(row, "fish", show=lambda _: "none")
    fish = removals.number(row, "fish", lambda value: with_error(value, error, whole=True))
    kg = removals.number(row, "kg", lambda value: with_error(value, mass_error))
    return Cell(((fish, " fish"), (kg, label(" kg"))))


def effort_table(effort: Source) -> Table:
    """Lay out effort and catch."""
    counts = {
        "days": "Netting days", "nets": "Nets", "pulls": "Pulls", "spoiled": "Void lifts",
        "marked": "Fish marked", "recaptured": "Recaptures", "caught": "Fish caught",
        "removed": "Fish removed",
    }  # fmt: skip
    # Only crews that write the hours down have them.
    by_hours = {"effort_h": "Hours fished", "caught_per_h": "Fish per hour"}
    if effort.frame["effort_h"].isna().all():
        by_hours = {}
    rows = []
    for row in range(len(effort.frame)):
        days = f"{effort.frame['first_day'].iloc[row]} to {effort.frame['last_day'].iloc[row]}"
        rows.append(
            (
                *effort.place(row),
                words(days.replace("-", HYPHEN)),
                *(effort.cell(row, name, show=whole) for name in counts),
                effort.cell(row, ("removed_median_kg", "removed_low_kg", "removed_high_kg")),
                *(effort.cell(row, name) for name in by_hours),
            )
        )
    return Table(
        "Effort and catch, as counted",
        (
            *PLACE,
            Column("First to last pull"),
            *_numbers(*counts.values(), "Removed, kg", *by_hours.values()),
        ),
        tuple(rows),
        "A void lift is a pull that failed to fish properly. Kilograms are the fish removed times "
        "their mean weight: median and 90 % interval.",
    )


def estimates_table(estimates: Source) -> Table:
    """Lay out every reported quantity with its convergence diagnostics."""
    frame, known = estimates.frame, quantities()
    rows = []
    for row in range(len(frame)):
        lake, season = estimates.place(row)
        rows.append(
            (
                lake,
                words("all") if frame["lake"].iloc[row] == ALL_LAKES else season,
                # What it is; how it is defined stands behind a colon.
                words(label(known[str(frame["quantity"].iloc[row])].meaning.partition(":")[0])),
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
        "Every reported quantity with its convergence diagnostics",
        (*PLACE, Column("Quantity"), Column("Unit"), *_numbers(*headings)),
        tuple(rows),
        heads=3,
    )


# The quantities of the truth table: name in the file → label that fits 80 columns, and what the
# number is multiplied by.
_TRUTHS = {
    "abundance_before": ("fish before", 1.0),
    "catchability_at_reference": ("catchability, %", 100.0),
    "temperature_effect": ("ratio, −10 °C", 1.0),
    "biomass_after": ("kg/ha after", 1.0),
}


def truth_table(estimates: pd.DataFrame, truth: pd.DataFrame) -> Table:
    """Lay out an invented truth beside its estimates."""
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
        "Invented truth and estimates",
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
