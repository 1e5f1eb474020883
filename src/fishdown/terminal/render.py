"""Tables for the terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rich import box
from rich.table import Table as RichTable

from fishdown.display.table import PLACE, Column, has_number
from fishdown.labels import season_label

if TYPE_CHECKING:
    from fishdown.display.table import Cell, Table

_SEASON = Column("Lake and season")
# Of a terminal, in characters.
WIDTH = 80


def in_terminal(table: Table) -> RichTable:
    """Render a table for 80 characters: without what needs room, lake and season in one."""
    shown = [place for place, column in enumerate(table.columns) if not column.roomy]
    joined = [table.columns[place] for place in shown[:2]] == list(PLACE)
    columns = [table.columns[place] for place in shown]
    if joined:
        columns[:2] = [_SEASON]
    rows = _rows(table, shown, joined=joined)
    # Where names would be broken within a word, columns stand one space apart and not two.
    tight = table.dense or _least_width(columns, rows) > WIDTH
    rendered = RichTable(
        title=table.title,
        title_justify="left",
        title_style="bold",
        caption=table.notes or None,
        caption_justify="left",
        caption_style="",
        box=box.SIMPLE_HEAD,
        pad_edge=False,
        padding=(0, 1, 0, 0) if tight else (0, 1),
        # A title is wrapped to the width of its table, which may be a narrow one.
        min_width=min(len(table.title), 78),
    )
    for column in columns:
        # A cut number would be a wrong number: names of lakes give way instead.
        rendered.add_column(
            column.heading,
            justify="right" if column.kind == "number" else "left",
            no_wrap=column.kind != "words",
            overflow="fold",
        )
    for row in rows:
        rendered.add_row(*row)
    return rendered


def _rows(table: Table, shown: list[int], *, joined: bool) -> list[list[str]]:
    """Return the cells of a table as text, lake and season in one if they are `joined`."""
    rows, last = [], ""
    for row in table.rows:
        cells = [_text(row[place], dense=table.dense) for place in shown]
        if joined:
            label = season_label(cells[0], cells[1])
            cells[:2] = ["" if label == last else label]
            last = label
        rows.append(cells)
    return rows


def _least_width(columns: list[Column], rows: list[list[str]]) -> int:
    """Return the width of a table in which no word and no number is broken, columns well apart."""
    widest = 0
    for place, column in enumerate(columns):
        texts = [column.heading, *(row[place] for row in rows)]
        words = [text.split() if column.kind == "words" else text.splitlines() for text in texts]
        widest += max((len(word) for several in words for word in several), default=0)
    # A space on either side of each cell, one for the line that could stand between, two edges.
    return widest + 3 * (len(columns) - 1) + 2


def _text(cell: Cell, *, dense: bool) -> str:
    if not dense or len(cell.lines) != 2 or not all(map(has_number, cell.lines)):
        return str(cell)
    median, ends = ("".join(map(str, line)) for line in cell.lines)
    return f"{median} ({ends})"
