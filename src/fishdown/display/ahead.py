"""Pulls to come: some of them for the page, all for the terminal; expected loss; pulls needed."""

from __future__ import annotations

import datetime as dt
import math
from typing import TYPE_CHECKING

from fishdown.decisions.ahead_tables import currency_of
from fishdown.decisions.ahead_words import money, pull_range
from fishdown.display.fitted import BIOMASS, ERROR, HYPHEN
from fishdown.display.table import PLACE, Cell, Column, Source, Table, whole, words
from fishdown.units import shown
from fishdown.words import amount, percent_with_error, with_error

if TYPE_CHECKING:
    from collections.abc import Sequence

    import pandas as pd

    from fishdown.decisions.ahead import PullsAhead
    from fishdown.decisions.lake_ahead import LakeAhead

CATCH = ("catch_median", "catch_low", "catch_high")
FISH = ("fish_left_median", "fish_left_low", "fish_left_high")
# About so many pulls to come of each lake are shown on the page; the file has all.
MOST_PULLS = 5
MONTHS = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"]


def some_pulls_table(ahead: Source) -> Table:
    """Lay out selected pulls to come in each lake: now, the last, and even steps between."""
    frame = ahead.frame
    costs = bool(frame["cost"].notna().any())
    rows = []
    for row, (pull, last) in enumerate(
        zip(frame["pull"], frame.groupby(["lake", "season"])["pull"].transform("max"), strict=True)
    ):
        if pull % max(1, math.ceil(last / MOST_PULLS)) and pull != last:
            continue
        absent = ahead.missing(row)
        cells = [
            ahead.words(row, "lake"),
            ahead.cell(row, "pull", show=whole) if pull else words("now"),
            words(str(frame["date"].iloc[row]).replace("-", HYPHEN) if pull else "–"),
            ahead.cell(row, CATCH, show=whole, absent=absent if pull else "–"),
            ahead.cell(row, FISH, absent=absent),
            ahead.cell(row, BIOMASS, absent=absent),
            ahead.chance(row, absent=absent),
            *([ahead.cell(row, "cost", show=whole)] if costs else []),
        ]
        rows.append(tuple(cells))
    numbers = (
        "Catch of the pull, fish",
        "Fish left",
        "Biomass left, kg/ha",
        "Probability below threshold",
        *([", ".join(["Cost so far", *currency_of(frame)])] if costs else []),
    )
    return Table(
        "Prediction for pulls to come: median and 90 % credible interval",
        (
            Column("Lake"),
            Column("Pulls to come", "number"),
            Column("Day"),
            *(Column(heading, "number") for heading in numbers),
        ),
        tuple(rows),
        ERROR,
    )


def pulls_table(lake: LakeAhead, rows: pd.DataFrame, until: float | None = None) -> Table:
    """Lay out the rows of one lake of `Ahead.frame`.

    Parameters
    ----------
    until : float, optional
        Stop at the first pull after which the probability is at least this.
    """
    weighed = lake.biomass is not None
    warm = bool(rows["temperature_median_c"].notna().any())
    pulls = []
    for place in range(len(rows)):
        pulls.append(_pull(lake, Source("ahead", rows), place, warm=warm))
        if until is not None and rows["probability_below"].iloc[place] >= until:
            break
    notes = ["Row 0 is now."]
    if weighed:
        threshold = amount(shown(lake.threshold, "kg/ha"))
        notes.append(
            f"Below: probability of less than {threshold} kg/ha; ± is the Monte-Carlo standard "
            "error."
        )
    if lake.colder.any():
        notes.append(f"* colder than the coldest reading ({shown(lake.coldest, '°C'):.1f} °C).")
    cost = "Cost" + (f",\n{lake.terms.currency}" if lake.terms.currency else "")
    return Table(
        f"Pulls to come in {lake.lake}: median and 90 % credible interval",
        (
            Column("Pull", "number"),
            Column("Day", "whole"),
            *([Column("°C", "number")] if warm else []),
            Column("Catch, fish", "number"),
            Column("Left, kg/ha" if weighed else "Left, fish", "number"),
            *([Column("Below, %", "number")] if weighed else []),
            *([Column(cost, "number")] if lake.cost is not None else []),
        ),
        tuple(pulls),
        " ".join(notes),
        dense=True,
    )


def _pull(lake: LakeAhead, rows: Source, place: int, *, warm: bool) -> tuple[Cell, ...]:
    pull = int(rows.frame["pull"].iloc[place])
    weighed = lake.biomass is not None
    return (
        words(str(pull)),
        words(_day(lake, pull) if pull else "now"),
        *([_celsius(rows, place)] if warm else []),
        rows.cell(place, CATCH, show=whole, absent=""),
        rows.cell(place, BIOMASS if weighed else FISH, absent="withheld"),
        *([_percent(rows, place)] if weighed else []),
        *([rows.cell(place, "cost", show=whole)] if lake.cost is not None else []),
    )


def _day(lake: LakeAhead, pull: int) -> str:
    day = lake.schedule.date[pull - 1].astype(dt.date)
    return f"{day.day} {MONTHS[day.month - 1]}"


def _celsius(rows: Source, place: int) -> Cell:
    points = ("median", "low", "high")
    cell = rows.cell(
        place,
        [f"temperature_{point}_c" for point in points],
        show=lambda degrees: f"{degrees:.0f}",
        absent="",
    )
    if not cell.has_numbers:
        return cell
    mark = "*" if rows.frame["colder_than_readings"].iloc[place] else ""
    median, ends = cell.lines
    same = str(ends[0]) == str(ends[-1])
    return Cell(((mark, *median),) if same else ((mark, *median), ends))


def _percent(rows: Source, place: int) -> Cell:
    def short(probability: float) -> str:
        error = float(rows.frame["mc_error"].iloc[place])
        text = percent_with_error(probability, error).removesuffix(" %")
        return text.replace("more than ", ">").replace("less than ", "<")

    return rows.cell(place, "probability_below", show=short, absent="")


def loss_table(lake: LakeAhead) -> Table:
    """Lay out the expected loss if netting ends after each further pull."""
    assert lake.losses is not None
    assert lake.expected_kg is not None
    currency = f", {lake.terms.currency}" if lake.terms.currency else ""
    rows = []
    for pull, (mean, error) in enumerate(zip(lake.losses.mean, lake.losses.error, strict=True)):
        alike = "not distinguished" if pull in lake.losses.alike else ""
        texts = (
            str(pull),
            with_error(mean, error, whole=True),
            "" if pull == 0 else with_error(*shown(lake.expected_kg[:, pull - 1], "kg")),
            "least" if pull == lake.losses.best else alike,
        )
        rows.append(tuple(map(words, texts)))
    return Table(
        f"When to stop in {lake.lake}: expected loss if netting ends after each pull",
        (
            Column("Pulls", "number"),
            Column(f"Expected loss{currency}", "number"),
            Column("Expected catch of the pull, kg", "number"),
            Column(""),
        ),
        tuple(rows),
        "± is the Monte-Carlo standard error. Negative values are gains.",
        dense=True,
    )


def needed_table(found: PullsAhead, wanted: Sequence[float]) -> Table:
    """Lay out `Ahead.needed`."""
    rows = []
    for lake in found.lakes:
        if lake.below is not None:
            needed = [_needed(lake, share) if lake.shown else words("withheld") for share in wanted]
            rows.append((words(lake.lake), words(lake.season), *needed))
    return Table(
        "Pulls needed, by the probability of being below the threshold then",
        (*PLACE, *(Column(f"{100.0 * share:g} %") for share in wanted)),
        tuple(rows),
        "In brackets: range within Monte-Carlo error.",
    )


def _needed(lake: LakeAhead, share: float) -> Cell:
    pulls, low, high = lake.needed(share)
    if pulls is None:
        return words(f"not within {lake.pulls}")
    if pulls == 0:
        return words("none")
    span = f" ({pull_range(low, high, lake.pulls)})" if low != high else ""
    cost = [money(lake, lake.cost[pulls])] if lake.cost is not None else []
    return words(f"{pulls}{span}", *cost)
