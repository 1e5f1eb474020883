"""Classical estimators of one season, with the reasons why some do not apply."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rich.padding import Padding

from fishdown.display.table import Column, Table, words
from fishdown.formulas.estimate import fish
from fishdown.terminal.render import in_terminal
from fishdown.words import amount, value_and_error

if TYPE_CHECKING:
    from collections.abc import Sequence

    from rich.console import Console

    from fishdown.formulas import Estimate, Row

COLUMNS = (
    Column("Estimator"),
    Column("Fish before", "number"),
    Column("90 % limits", "number"),
    Column("Catchability (SE)", "number"),
)


def print_formulas(console: Console, season: str, rows: Sequence[Row]) -> None:
    """Print each estimate, then the reasons of those that do not apply."""
    estimates, remarks = [], []
    for row in rows:
        if row.estimate is None:
            remarks.append(f"Does not apply: {row.method} ({row.refusal}).")
            continue
        estimate = row.estimate
        limits = (
            f"{fish(estimate.low)} or more"
            if estimate.high == float("inf")
            else f"{fish(estimate.low)}–{fish(estimate.high)}"
        )
        texts = (row.method, fish(estimate.abundance), limits, _share(estimate, row.unit))
        estimates.append(tuple(map(words, texts)))
        if estimate.note:
            remarks.append(f"{row.method}: {estimate.note}.")
    console.print(in_terminal(Table(season, COLUMNS, tuple(estimates))))
    for remark in remarks:
        console.print(Padding(f"– {remark}", (0, 0, 0, 1)))
    console.print()


def _share(estimate: Estimate, unit: str) -> str:
    if estimate.catchability is None:
        return ""
    error = estimate.catchability_se
    behind = "" if unit == "pull" else f" per {unit}"
    if error is None:
        return f"{amount(100.0 * estimate.catchability)} %{behind}"
    shown, its_error = value_and_error(100.0 * estimate.catchability, 100.0 * error)
    return f"{shown} % ({its_error}){behind}"
