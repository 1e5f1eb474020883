"""The pulls to come, for the terminal."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from fishdown.decisions.ahead_words import money, pull_range
from fishdown.errors import PlanError
from fishdown.labels import season_label
from fishdown.records.tables import rows_of
from fishdown.statements.removals import WANTED
from fishdown.terminal.tables import start_table
from fishdown.words import amount, percent_with_error, with_error

if TYPE_CHECKING:
    import argparse
    from collections.abc import Sequence

    from rich.console import Console
    from rich.table import Table

    from fishdown.decisions.ahead import Ahead
    from fishdown.decisions.lake_ahead import LakeAhead


MONTHS = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"]


def print_ahead(console: Console, options: argparse.Namespace) -> bool:
    """Predict, print and write; returns whether every lake passed the gates."""
    from fishdown.decisions.ahead import FIGURE, TABLE
    from fishdown.decisions.pulls_file import read_pulls_ahead
    from fishdown.posterior.store import load

    if options.plan is not None:
        _refuse_beside_plan(options)
    fitted = load(options.results)
    plan = None if options.plan is None else read_pulls_ahead(options.plan, fitted.campaign)
    found = fitted.ahead(
        options.pulls,
        lake=options.lake,
        plan=plan,
        start=options.start,
        days_between=options.days_between,
        pulls_a_day=options.pulls_a_day,
        temperature=options.temp,
        cost_per_pull=options.cost_per_pull,
        cost_above=options.cost_above,
        value_per_kg=options.value_per_kg,
        seed=options.seed,
        despite_gate=options.despite_gate,
    )
    found.save(options.results)
    options.saved = options.results
    if not found.passed and options.despite_gate:
        console.print("WARNING: a gate failed; what follows may be far off.")
    frame = found.frame()
    for lake in found.lakes:
        console.print(pulls_table(lake, frame[frame["lake"] == lake.lake], options.until))
        if lake.shown and lake.losses is not None:
            console.print(loss_table(lake))
    wanted = sorted({*WANTED, *([options.until] if options.until else [])})
    if any(lake.below is not None for lake in found.lakes):
        console.print(needed_table(found, wanted))
    for sentence in found.sentences(options.until or WANTED[1]):
        console.print(sentence)
    console.print(f"\nWritten to {options.results}: {TABLE}, {FIGURE}.")
    return found.passed


def _refuse_beside_plan(options: argparse.Namespace) -> None:
    for name in ("temp", "from", "days-between", "pulls-a-day"):
        key = "start" if name == "from" else name.replace("-", "_")
        if getattr(options, key) is not None:
            raise PlanError(f"--{name} does not go with --plan; write it into {options.plan}")


def pulls_table(lake: LakeAhead, rows: pd.DataFrame, until: float | None = None) -> Table:
    """Lay out the rows of one lake of `Ahead.frame`.

    Parameters
    ----------
    lake : LakeAhead
    rows : pandas.DataFrame
    until : float, optional
        Stop at the first pull after which the probability is at least this.
    """
    table = start_table(
        f"Pulls to come in {lake.lake}: median, and the interval that holds 90 %", tight=True
    )
    table.add_column("Pull", justify="right", no_wrap=True)
    table.add_column("Day", no_wrap=True)
    if not np.isnan(lake.temperature).all():
        table.add_column("°C", justify="right", no_wrap=True)
    table.add_column("Catch, fish", justify="right", no_wrap=True)
    weighed = lake.biomass is not None
    table.add_column("Left, kg/ha" if weighed else "Left, fish", justify="right", no_wrap=True)
    if weighed:
        table.add_column("Below, %", justify="right", no_wrap=True)
    if lake.cost is not None:
        table.add_column(f"Cost{_in(lake)}", justify="right", no_wrap=True)
    for row in rows_of(rows):
        table.add_row(*_cells(lake, row))
        if until is not None and row.probability_below >= until:
            break
    caption = ["Row 0 is now."]
    if weighed:
        caption.append(
            f"Below: probability of less than {amount(lake.threshold)} kg/ha; ± is the Monte-Carlo "
            "standard error."
        )
    if lake.colder.any():
        caption.append(f"* colder than the coldest reading ({lake.coldest:.1f} °C).")
    table.caption = " ".join(caption)
    return table


def loss_table(lake: LakeAhead) -> Table:
    """Lay out what ending after each further pull is expected to cost."""
    assert lake.losses is not None
    assert lake.expected_kg is not None
    currency = f", {lake.terms.currency}" if lake.terms.currency else ""
    table = start_table(
        f"When to stop in {lake.lake}: expected loss of ending after each pull", tight=True
    )
    table.add_column("Pulls", justify="right", no_wrap=True)
    table.add_column(f"Expected loss{currency}", justify="right", no_wrap=True)
    table.add_column("Expected catch of that pull, kg", justify="right", no_wrap=True)
    table.add_column("")
    for pull, (mean, error) in enumerate(zip(lake.losses.mean, lake.losses.error, strict=True)):
        best = "least" if pull == lake.losses.best else ""
        alike = "like the least" if pull in lake.losses.alike else ""
        table.add_row(
            str(pull),
            with_error(mean, error, whole=True),
            "" if pull == 0 else with_error(*lake.expected_kg[:, pull - 1]),
            best or alike,
        )
    table.caption = "± is the Monte-Carlo standard error. Below 0 it is a gain."
    return table


def needed_table(found: Ahead, wanted: Sequence[float]) -> Table:
    """Lay out `Ahead.needed`."""
    table = start_table(
        "More pulls for a probability of being below the threshold of …", tight=True
    )
    table.add_column("Lake and season", overflow="fold")
    for share in wanted:
        table.add_column(f"{100.0 * share:g} %")
    for lake in found.lakes:
        if lake.below is not None:
            cells = [_needed(lake, share) if lake.shown else "withheld" for share in wanted]
            table.add_row(season_label(lake.lake, lake.season), *cells)
    table.caption = "In brackets: the range that Monte-Carlo error leaves."
    return table


def _cells(lake: LakeAhead, row: pd.Series) -> list[str]:
    cells = [str(row.pull), "now" if row.pull == 0 else _day(lake, row.pull)]
    if not np.isnan(lake.temperature).all():
        cells.append("" if row.pull == 0 else _celsius(row))
    if not lake.shown:
        cells += ["", "withheld", *([""] if lake.biomass is not None else [])]
    else:
        cells.append("" if row.pull == 0 else _catch(row))
        left = "fish_left_{}" if lake.biomass is None else "biomass_{}_kg_per_ha"
        cells.append(_span(left, row))
        if lake.biomass is not None:
            cells.append(_percent(row))
    if lake.cost is not None:
        cells.append(f"{row.cost:,.0f}")
    return cells


def _day(lake: LakeAhead, pull: int) -> str:
    day = lake.schedule.date[pull - 1].astype(dt.date)
    return f"{day.day} {MONTHS[day.month - 1]}"


def _catch(row: pd.Series) -> str:
    return f"{row.catch_median:,.0f} ({row.catch_low:,.0f}–{row.catch_high:,.0f})"


def _percent(row: pd.Series) -> str:
    text = percent_with_error(row.probability_below, row.mc_error).removesuffix(" %")
    return text.replace("more than ", ">").replace("less than ", "<")


def _celsius(row: pd.Series) -> str:
    mark = "*" if row.colder_than_readings else ""
    low, median, high = (
        f"{getattr(row, f'temperature_{which}_c'):.0f}" for which in ("low", "median", "high")
    )
    return f"{mark}{median} ({low}–{high})" if low != high else f"{mark}{median}"


def _span(name: str, row: pd.Series) -> str:
    low, median, high = (
        amount(getattr(row, name.format(which))) for which in ("low", "median", "high")
    )
    return f"{median} ({low}–{high})"


def _needed(lake: LakeAhead, share: float) -> str:
    pulls, low, high = lake.needed(share)
    if pulls is None:
        return f"not within {lake.pulls}"
    if pulls == 0:
        return "none"
    span = f" ({pull_range(low, high, lake.pulls)})" if low != high else ""
    cost = f"\n{money(lake, lake.cost[pulls])}" if lake.cost is not None else ""
    return f"{pulls}{span}{cost}"


def _in(lake: LakeAhead) -> str:
    return f",\n{lake.terms.currency}" if lake.terms.currency else ""
