"""The classical estimators of one season: those that apply, and why others do not."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rich import box
from rich.console import Group
from rich.padding import Padding
from rich.table import Table

from fishdown.formulas.estimate import fish
from fishdown.words import amount, value_and_error

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fishdown.formulas import Estimate, Row


def formula_table(season: str, rows: Sequence[Row]) -> Group:
    """Lay out each estimate, then the reasons of those that do not apply."""
    table = Table(
        title=season,
        title_justify="left",
        title_style="bold",
        box=box.SIMPLE_HEAD,
        pad_edge=False,
    )
    table.add_column("Estimator")
    table.add_column("Fish before", justify="right")
    table.add_column("90 % limits", justify="right")
    table.add_column("One pull takes (SE)", justify="right")
    remarks = []
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
        table.add_row(row.method, fish(estimate.abundance), limits, _share(estimate))
        if estimate.note:
            remarks.append(f"{row.method}: {estimate.note}.")
    lines = [Padding(f"– {remark}", (0, 0, 0, 1)) for remark in remarks]
    return Group(table, *lines, "")


def _share(estimate: Estimate) -> str:
    if estimate.catchability is None:
        return ""
    error = estimate.catchability_se
    if error is None:
        return f"{amount(100.0 * estimate.catchability)} %"
    shown, its_error = value_and_error(100.0 * estimate.catchability, 100.0 * error)
    return f"{shown} % ({its_error})"
