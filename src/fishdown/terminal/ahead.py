"""The command that predicts pulls to come."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fishdown.display.ahead import loss_table, needed_table, pulls_table
from fishdown.errors import PlanError
from fishdown.statements.removals import WANTED
from fishdown.terminal.render import in_terminal
from fishdown.units import US_UNITS, as_metric, shown_in

if TYPE_CHECKING:
    import argparse

    from rich.console import Console

    from fishdown.api.fit import Fit


def print_ahead(console: Console, options: argparse.Namespace) -> bool:
    """Predict, print and write; returns whether every lake passed the gates."""
    from fishdown.api.fit import load

    if options.plan is not None:
        _refuse_beside_plan(options)
    fitted = load(options.results)
    with shown_in(fitted.units):
        return _print_ahead(console, options, fitted)


def _print_ahead(console: Console, options: argparse.Namespace, fitted: Fit) -> bool:
    from fishdown.api.ahead import FIGURE
    from fishdown.decisions.ahead import TABLE
    from fishdown.decisions.pulls_file import read_pulls_ahead

    plan = None if options.plan is None else read_pulls_ahead(options.plan, fitted.campaign)
    found = fitted.ahead(
        options.pulls,
        lake=options.lake,
        plan=plan,
        start=options.start,
        days_between=options.days_between,
        pulls_a_day=options.pulls_a_day,
        temperature=None if options.temp is None else as_metric(options.temp, "°C"),
        cost_per_pull=options.cost_per_pull,
        cost_above=options.cost_above,
        value_per_kg=_value_per_kg(options),
        seed=options.seed,
        despite_gate=options.despite_gate,
    )
    found.save(options.results)
    options.saved = options.results
    if not found.passed and options.despite_gate:
        console.print("WARNING: a gate failed; the results below may be far from the truth.")
    frame = found.frame()
    for lake in found.lakes:
        rows = frame[frame["lake"] == lake.lake]
        console.print(in_terminal(pulls_table(lake, rows, options.until)))
        if lake.shown and lake.losses is not None:
            console.print(in_terminal(loss_table(lake)))
    wanted = sorted({*WANTED, *([options.until] if options.until else [])})
    if any(lake.below is not None for lake in found.lakes):
        console.print(in_terminal(needed_table(found, wanted)))
    for sentence in found.sentences(options.until or WANTED[1]):
        console.print(sentence)
    console.print(f"\nWritten to {options.results}: {TABLE}, {FIGURE}.")
    return found.passed


def _value_per_kg(options: argparse.Namespace) -> float | None:
    if options.value_per_lb is None:
        value: float | None = options.value_per_kg
        return value
    return float(options.value_per_lb) / US_UNITS["kg"].factor


def _refuse_beside_plan(options: argparse.Namespace) -> None:
    for name in ("temp", "from", "days-between", "pulls-a-day"):
        key = "start" if name == "from" else name.replace("-", "_")
        if getattr(options, key) is not None:
            raise PlanError(f"--{name} does not go with --plan; write it into {options.plan}")
