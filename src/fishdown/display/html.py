"""A table as HTML, for notebooks."""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from fishdown.display.table import Cell, Table


def as_html(table: Table) -> str:
    """Render a table as HTML without any style of its own, every text escaped."""
    headings = "".join(f"<th>{_lines(column.heading)}</th>" for column in table.columns)
    rows = "".join(_row(row, table.heads) for row in table.rows)
    notes = f"<p>{escape(table.notes)}</p>" if table.notes else ""
    return (
        f"<table><caption>{escape(table.title)}</caption>"
        f"<thead><tr>{headings}</tr></thead><tbody>{rows}</tbody></table>{notes}"
    )


def _row(row: tuple[Cell, ...], heads: int) -> str:
    cells = "".join(
        f"<{tag}>{_lines(str(cell))}</{tag}>"
        for place, cell in enumerate(row)
        for tag in ["th" if place < heads else "td"]
    )
    return f"<tr>{cells}</tr>"


def _lines(text: str) -> str:
    return escape(text).replace("\n", "<br/>")
