"""One budget for several lakes: printed, and written beside the fit."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fishdown.atomic_write import all_or_none
from fishdown.display.budget import budget_table, splits_table
from fishdown.display.table import Source
from fishdown.statements.in_units import shown_frame
from fishdown.terminal.render import in_terminal
from fishdown.units import as_metric, shown_in

if TYPE_CHECKING:
    import argparse
    from pathlib import Path

    from rich.console import Console

    from fishdown.api.fit import Fit
    from fishdown.decisions.budget import Budget

TABLE = "budget.csv"
FIGURE = "budget.png"
DESCRIPTION = "budget.txt"
FILES = (TABLE, FIGURE, DESCRIPTION)


def print_budget(console: Console, options: argparse.Namespace) -> bool:
    """Share out, write and print; returns whether every lake passed the gates."""
    from fishdown.api.fit import load

    fitted = load(options.results)
    with shown_in(fitted.units):
        return _print_budget(console, options, fitted)


def _print_budget(console: Console, options: argparse.Namespace, fitted: Fit) -> bool:
    found = fitted.budget(
        options.days,
        amount=options.amount,
        aim=options.aim,
        start=options.start,
        days_between=options.days_between,
        pulls_a_day=options.pulls_a_day,
        temperature=None if options.temp is None else as_metric(options.temp, "°C"),
        cost_per_pull=options.cost_per_pull,
        cost_per_field_day=options.cost_per_field_day,
        seed=options.seed,
        despite_gate=options.despite_gate,
    )
    written = write_budget(found, options.results)
    options.saved = options.results
    source = Source("budget", found.frame)
    console.print(in_terminal(budget_table(source, found.shared)))
    if len(found.curve):
        console.print(in_terminal(splits_table(source)))
    for sentence in found.sentences:
        console.print(sentence)
    console.print(f"\nWritten to {options.results}: {', '.join(written)}.")
    return found.passed


def write_budget(found: Budget, folder: str | Path) -> tuple[str, ...]:
    """Write `FILES` into the folder of the fit, all or none; the figure only if it shows something.

    Raises
    ------
    FishdownError
        If the folder cannot be written.
    """
    from fishdown.figures import budget
    from fishdown.figures.files import save_figure
    from fishdown.spreadsheet import write_csv

    drawn = not budget.missing(found.curve)
    currency = str(found.frame["currency"].iloc[0])
    with all_or_none(folder, instead_of=FILES) as staged, shown_in(found.units):
        write_csv(shown_frame(found.frame), staged / TABLE)
        if drawn:
            save_figure(budget.draw(found.curve, currency), staged / FIGURE, "png")
            said = "\n".join(found.sentences)
            words = f"{budget.TITLE}\n{budget.describe(found.curve, currency)}\n{said}\n"
            (staged / DESCRIPTION).write_text(words, encoding="utf-8")
    return FILES if drawn else (TABLE,)
