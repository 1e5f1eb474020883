"""Which columns each table of the page has, and in which words."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from fishdown.decisions.ahead_tables import currency_of
from fishdown.decisions.years_words import STRONG, taken
from fishdown.intervals import INTERVAL
from fishdown.models.spec import meaning
from fishdown.report.tables import Cell, Table, tenths, whole
from fishdown.statements.estimates import ALL_LAKES
from fishdown.words import amount, percent, percent_with_error, with_error

if TYPE_CHECKING:
    from fishdown.models.spec import ModelSpec
    from fishdown.report.tables import Source

BIOMASS = ("biomass_median_kg_per_ha", "biomass_low_kg_per_ha", "biomass_high_kg_per_ha")
POINTS = ("median", "low", "high")
WITHHELD = "withheld"
# So that no date is broken.
HYPHEN = "\N{NON-BREAKING HYPHEN}"
PLACE = ("Lake", "Season")
# Of the pulls to come in a lake, about so many are shown; the file has all.
MOST_PULLS = 5
# Scenario → its name in a narrow column.
YOUNG_FISH = {"eaten": "eaten", "open": "not eaten", "strong-year": "not eaten, strong year"}


def verdicts_table(source: Source) -> Table:
    """Lay out every lake and season: before, after, and whether it is below."""
    frame = source.frame
    rows = []
    for after in range(1, len(frame), 2):
        passed = frame["gate"].iloc[after] == "passed"
        absent = "–" if passed else WITHHELD
        rows.append(
            (
                source.words(after, "lake"),
                source.words(after, "season"),
                source.cell(after, "area_ha"),
                source.cell(after, "threshold_kg_per_ha"),
                source.cell(after - 1, BIOMASS, absent=absent),
                source.cell(after, BIOMASS, absent=absent),
                _chance(source, after, absent),
                source.words(after, "words"),
                Cell("passed" if passed else str(frame["gate"].iloc[after])),
            )
        )
    headings = (
        *PLACE,
        "Area, ha",
        "Threshold, kg/ha",
        "Before, kg/ha",
        "After, kg/ha",
        "Probability of being below",
        "In words",
        "Checks",
    )
    caption = (
        "Biomass density before and after netting: the middle estimate, and below it the range "
        "that holds 90 %. ± is the error of the computation."
    )
    return Table(caption, headings, tuple(rows))


def _chance(source: Source, row: int, absent: str) -> Cell:
    """Return the probability of being below the threshold with its error."""
    error = float(source.frame["mc_error"].iloc[row])
    return source.cell(
        row, "probability_below", show=lambda p: percent_with_error(p, error), absent=absent
    )


def effort_table(source: Source) -> Table:
    """Lay out what was done and taken."""
    rows = []
    for row in range(len(source.frame)):
        days = f"{source.frame['first_day'].iloc[row]} to {source.frame['last_day'].iloc[row]}"
        counts = ("days", "nets", "pulls", "spoiled", "marked", "recaptured", "caught", "removed")
        rows.append(
            (
                source.words(row, "lake"),
                source.words(row, "season"),
                Cell(days.replace("-", HYPHEN)),
                *(source.cell(row, name, show=whole) for name in counts),
                source.cell(row, ("removed_median_kg", "removed_low_kg", "removed_high_kg")),
            )
        )
    headings = (
        *PLACE,
        "First to last pull",
        "Netting days",
        "Nets",
        "Pulls",
        "Failed pulls",
        "Fish marked",
        "Marked fish seen again",
        "Fish caught",
        "Fish removed",
        "Removed, kg",
    )
    caption = (
        "Effort and catch, as counted. Kilograms are the fish removed times their mean weight, "
        "with the range that holds 90 %."
    )
    return Table(caption, headings, tuple(rows))


def left_table(source: Source, verdicts: Source, hidden: set[tuple[str, str]]) -> Table:
    """Lay out how many fish there were and are; `hidden` seasons are withheld."""
    frame = source.frame
    row_of = {
        (row.lake, row.season, row.quantity): place
        for place, row in enumerate(frame.itertuples(index=False))
    }
    rows = []
    for place in range(0, len(verdicts.frame), 2):
        lake, season = (str(verdicts.frame[name].iloc[place]) for name in ("lake", "season"))
        cells = []
        for name, times in (
            ("abundance_before", 1.0),
            ("abundance_after", 1.0),
            ("removed_share", 100.0),
            ("mean_weight", 1.0),
        ):
            row = row_of.get((lake, season, name))
            if (lake, season) in hidden:
                cells.append(Cell(WITHHELD))
            elif row is None:
                cells.append(Cell("–"))
            else:
                cells.append(source.cell(row, POINTS, times=times))
        rows.append((Cell(lake), Cell(season), *cells))
    headings = (*PLACE, "Fish before", "Fish after", "Share removed, %", "Mean weight, kg")
    caption = "Fish in the lake: the middle estimate, and below it the range that holds 90 %."
    return Table(caption, headings, tuple(rows))


def removals_table(source: Source) -> Table:
    """Lay out the fish and kg still to remove, by wanted probability."""
    frame = source.frame
    wanted = sorted(frame["wanted_probability"].unique())
    places = list(dict.fromkeys(zip(frame["lake"], frame["season"], strict=True)))
    rows = []
    for lake, season in places:
        cells = []
        for probability in wanted:
            (row,) = np.flatnonzero(
                (frame["lake"] == lake)
                & (frame["season"] == season)
                & (frame["wanted_probability"] == probability)
            )
            cells += [_still_to_remove(source, int(row), unit) for unit in ("fish", "kg")]
        rows.append((Cell(str(lake)), Cell(str(season)), *cells))
    headings = [f"{what} for {percent(p)}" for p in wanted for what in ("Fish", "kg")]
    caption = (
        "Still to remove after the last pull, to be below the threshold with a probability of "
        f"{', '.join(percent(p) for p in wanted)}. ± is the error of the computation."
    )
    return Table(caption, (*PLACE, *headings), tuple(rows))


def _still_to_remove(source: Source, row: int, unit: str) -> Cell:
    """Return the fish or kg with their error."""
    fewest, error = source.frame[[unit, f"{unit}_mc_error"]].iloc[row]
    if fewest == error == 0:
        return source.cell(row, unit, show=lambda _: "none")
    return source.cell(
        row,
        unit,
        show=lambda value: with_error(value, error, whole=unit == "fish"),
        absent=WITHHELD,
    )


def bycatch_table(source: Source) -> Table:
    """Lay out the bycatch by species."""
    rate = ("per_pull_median", "per_pull_low", "per_pull_high")
    share = ("dead_share_median", "dead_share_low", "dead_share_high")
    rows = tuple(
        (
            source.words(row, "lake"),
            source.words(row, "season"),
            source.words(row, "species"),
            source.cell(row, "count", show=whole),
            source.cell(row, rate),
            source.cell(row, "dead", show=whole, absent="not noted"),
            source.cell(row, "dead_empty", show=whole, absent="all"),
            source.cell(row, share, show=tenths, times=100.0, absent="not noted"),
        )
        for row in range(len(source.frame))
    )
    headings = (*PLACE, "Species", "Counted", "Fish a pull", "Dead", "Without entry", "Dead, %")
    caption = (
        "Bycatch as counted; the mean of a pull, and the dead in percent of the fish counted, with "
        "the range that holds 90 %. A row without an entry of the dead counts as none dead where "
        "other rows of the season have one."
    )
    return Table(caption, headings, rows, heads=3)


def evidence_table(source: Source) -> Table:
    """Lay out abundance by marks alone, by catches alone and by both."""
    frame = source.frame
    words = {"marks": "marks alone", "depletion": "catches alone", "both": "both"}
    rows = tuple(
        (
            source.words(row, "lake"),
            source.words(row, "season"),
            Cell(words[str(frame["evidence"].iloc[row])]),
            source.cell(
                row,
                POINTS,
                absent="says nothing" if frame["gate"].iloc[row] == "passed" else WITHHELD,
            ),
            source.cell(row, "agreement", show=percent),
        )
        for row in range(len(frame))
    )
    headings = (*PLACE, "Evidence", "Fish before netting", "Agreement")
    caption = (
        "Fish before netting by kind of evidence, median and 90 % interval. Agreement: how often "
        "chance alone would part marks and catches this far."
    )
    return Table(caption, headings, rows, heads=3)


def pulls_table(source: Source) -> Table:
    """Lay out some of the pulls to come in each lake: now, the last, and steps between."""
    frame = source.frame
    catch = ("catch_median", "catch_low", "catch_high")
    fish = ("fish_left_median", "fish_left_low", "fish_left_high")
    costs = bool(frame["cost"].notna().any())
    rows = []
    for row, (pull, last) in enumerate(
        zip(frame["pull"], frame.groupby(["lake", "season"])["pull"].transform("max"), strict=True)
    ):
        if pull % max(1, math.ceil(last / MOST_PULLS)) and pull != last:
            continue
        absent = "–" if frame["gate"].iloc[row] == "passed" else WITHHELD
        cells = [
            source.words(row, "lake"),
            source.cell(row, "pull", show=whole) if pull else Cell("now"),
            Cell(str(frame["date"].iloc[row]).replace("-", HYPHEN) if pull else "–"),
            source.cell(row, catch, show=whole, absent=absent if pull else "–"),
            source.cell(row, fish, absent=absent),
            source.cell(row, BIOMASS, absent=absent),
            _chance(source, row, absent),
            *([source.cell(row, "cost", show=whole)] if costs else []),
        ]
        rows.append(tuple(cells))
    headings = (
        "Lake",
        "Pulls to come",
        "Day",
        "Catch of that pull, fish",
        "Fish left",
        "Left, kg/ha",
        "Probability of being below",
        *([", ".join(["Cost so far", *currency_of(frame)])] if costs else []),
    )
    caption = (
        "What pulls to come may bring: the middle estimate, and below it the range that holds "
        "90 %. ± is the error of the computation."
    )
    return Table(caption, headings, tuple(rows))


def years_table(source: Source) -> Table:
    """Lay out the end of the years ahead, lake by lake and scenario by scenario."""
    frame = source.frame
    ends = frame.groupby(["lake", "young"], sort=False)["years_ahead"].transform("max")
    rows = []
    last = (frame["years_ahead"] == ends) | frame["years_ahead"].isna()
    for row in np.flatnonzero(last).tolist():
        absent = "–" if frame["gate"].iloc[row] == "passed" else WITHHELD
        rows.append(
            (
                source.words(row, "lake"),
                Cell(YOUNG_FISH[str(frame["young"].iloc[row])]),
                source.cell(row, "year", show=lambda year: f"{year:.0f}", absent=absent),
                source.cell(row, ("fish_median", "fish_low", "fish_high"), absent=absent),
                source.cell(row, BIOMASS, absent=absent),
                _chance(source, row, absent),
            )
        )
    headings = (
        "Lake",
        "Young fish",
        "End of",
        "Fish",
        "kg/ha",
        "Probability of being below",
    )
    caption = (
        f"The last of the years ahead, if {taken(frame.iloc[0].to_dict())}: the middle estimate, "
        "and below it the range that holds 90 %. ± is the error of the computation. Young fish are "
        "eaten by other fish or not; a strong year brings "
        f"{STRONG:g} times as many in the next year."
    )
    return Table(caption, headings, tuple(rows))


def estimates_table(source: Source) -> Table:
    """Lay out every reported quantity."""
    frame = source.frame
    rows = tuple(
        (
            source.words(row, "lake"),
            Cell("all") if frame["lake"].iloc[row] == ALL_LAKES else source.words(row, "season"),
            Cell(str(frame["quantity"].iloc[row]).replace("_", " ")),
            source.words(row, "unit"),
            source.cell(row, POINTS, absent=WITHHELD),
            source.cell(row, "mean", absent=WITHHELD),
            source.cell(row, "sd", absent=WITHHELD),
            source.cell(row, "rhat", show=lambda value: f"{value:.4f}"),
            source.cell(row, "ess_bulk", show=whole),
            source.cell(row, "ess_tail", show=whole),
        )
        for row in range(len(frame))
    )
    headings = (
        *PLACE,
        "Quantity",
        "Unit",
        "Median and 90 % interval",
        "Mean",
        "SD",
        "R-hat",
        "Bulk ESS",
        "Tail ESS",
    )
    caption = "Every reported quantity with its convergence."
    return Table(caption, headings, rows, heads=3)


def priors_table(spec: ModelSpec) -> Table:
    """Lay out the priors of the model."""
    rows = []
    for name, prior in spec.priors.items():
        low, high = prior.interval(INTERVAL)
        median = float(prior.quantile(np.array([0.5]))[0])
        interval = f"{amount(median)} ({amount(low)} to {amount(high)})"
        rows.append((Cell(name), Cell(meaning(name)), Cell(interval)))
    headings = ("Parameter", "Meaning", "Median and 90 % interval")
    return Table("Priors of the model.", headings, tuple(rows), heads=1)
