"""A table as text: header, cells and the line each row stands on, before any value is read."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from fishdown.records.codes import Odd, Wrong
from fishdown.records.problems import Problem

if TYPE_CHECKING:
    from collections.abc import Iterable


@dataclass
class TextTable:
    """The cells of one table as trimmed text.

    Attributes
    ----------
    file : str
        Name to show in problems.
    header_row : int
        Line of the header.
    cells : dict of str to list of str
        Column name (trimmed, lower case) to its cells; all columns are equally long.
    rows : list of int
        Line of each row in the file.
    incomplete : bool
        True if rows were left out because their cells could not be separated.
    """

    file: str
    header_row: int
    cells: dict[str, list[str]]
    rows: list[int] = field(default_factory=list)
    incomplete: bool = False


def text_table(
    file: str, lines: Iterable[tuple[int, list[str]]], *, padded: bool = False
) -> tuple[TextTable | None, list[Problem]]:
    """Sort the lines of a file into columns.

    Parameters
    ----------
    file : str
        Name to show in problems.
    lines : iterable of (int, list of str)
        Line number and cells of each line, the header among them; blank lines may be there.
    padded : bool
        Whether a line that is too short stands for one with blank cells at its end, as in a
        sheet, rather than for an error.

    Returns
    -------
    table : TextTable or None
        None if there is no header to read.
    problems : list of Problem
        Ragged rows, doubled or nameless columns, a wrong separator.
    """
    filled = ((row, _trimmed(line), len(line)) for row, line in lines)
    filled = ((row, line, width) for row, line, width in filled if line)
    header_row, header, _ = next(filled, (0, [], 0))
    if not header:
        return None, [Problem(Wrong.EMPTY_FILE, file)]
    if len(header) == 1:
        for sign, name in ((";", "semicolons"), ("\t", "tabs")):
            if sign in header[0]:
                said = {"separator": name}
                return None, [Problem(Wrong.NOT_COMMAS, file, header_row, values=said)]

    names = [name.strip().lower() for name in header]
    table = TextTable(file, header_row, {name: [] for name in names if name})
    first = {name: place for place, name in reversed(list(enumerate(names)))}
    columns = [(cells, first[name]) for name, cells in table.cells.items()]
    nameless = dict.fromkeys(place for place, name in enumerate(names) if not name)
    filled_nameless: list[int] = []
    ragged: dict[int, list[int]] = {}
    for row, line, width in filled:
        if len(line) > len(names) or (width < len(names) and not padded):
            table.incomplete = True
            ragged.setdefault(width, []).append(row)
            continue
        table.rows.append(row)
        for cells, place in columns:
            cells.append(line[place].strip() if place < len(line) else "")
        found = [place for place in nameless if place < len(line) and line[place].strip()]
        for place in found:
            del nameless[place]
        filled_nameless += found
    problems = [
        Problem(Wrong.COLUMN_TWICE, file, header_row, name, values={"columns": count})
        for name, count in Counter(names).items()
        if name and count > 1
    ]
    for width, rows in ragged.items():
        widths = {"cells": width, "header": len(names), "rows": rows}
        problems.append(Problem(Wrong.RAGGED_ROW, file, rows[0], values=widths))
    for place in sorted(filled_nameless):
        said = {"place": _ordinal(place + 1)}
        problems.append(Problem(Odd.COLUMN_WITHOUT_NAME, file, header_row, values=said))
    return table, problems


def _trimmed(line: list[str]) -> list[str]:
    """Drop blank cells at the end of a line."""
    end = len(line)
    while end and not line[end - 1].strip():
        end -= 1
    return line[:end]


def _ordinal(number: int) -> str:
    if 10 <= number % 100 <= 20:
        return f"{number}th"
    return f"{number}{ {1: 'st', 2: 'nd', 3: 'rd'}.get(number % 10, 'th') }"
