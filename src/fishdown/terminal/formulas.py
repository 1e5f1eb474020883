"""The hand formulas of one season as a table for the terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rich import box
from rich.table import Table

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fishdown.formulas import Row


def formula_table(season: str, rows: Sequence[Row]) -> Table:
    """Lay out each formula's answer, or the reason why it does not apply."""
    table = Table(
        title=season,
        title_justify="left",
        title_style="bold",
        box=box.SIMPLE_HEAD,
        pad_edge=False,
    )
    table.add_column("Formula", max_width=22)
    table.add_column("Fish before [90 %]", justify="right")
    table.add_column("One pull takes", justify="right")
    table.add_column("Remark, or why not")
    for row in rows:
        table.add_row(*row.cells)
    return table
