"""A table as text: header, cells and the line each row stands on, before any value is read."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from fishdown.records.problems import Problem, counted, listed_rows

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
        True if rows were left out because their cells could not be told apart.
    """

    file: str
    header_row: int
    cells: dict[str, list[str]]
    rows: list[int] = field(default_factory=list)
    incomplete: bool = False


def text_table(
    file: str, lines: Iterable[tuple[int, list[str]]]
) -> tuple[TextTable | None, list[Problem]]:
    """Sort the lines of a file into columns.

    Parameters
    ----------
    file : str
        Name to show in problems.
    lines : iterable of (int, list of str)
        Line number and cells of each line, the header among them; blank lines may be there.

    Returns
    -------
    table : TextTable or None
        None if there is no header to read.
    problems : list of Problem
        Ragged rows, doubled or nameless columns, a wrong separator.
    """
    filled = ((row, [cell.strip() for cell in line]) for row, line in lines)
    filled = ((row, line) for row, line in filled if any(line))
    header_row, header = next(filled, (0, []))
    if not header:
        return None, [
            Problem(file, None, None, "", "empty file", "write the column names and the rows")
        ]
    if len(header) == 1:
        for sign, name in ((";", "semicolons"), ("\t", "tabs")):
            if sign in header[0]:
                mend = "save the file again as CSV with commas between the columns"
                wrong = f"the columns are separated by {name}, not by commas"
                return None, [Problem(file, header_row, None, "", wrong, mend)]

    names = [name.lower() for name in header]
    while not names[-1]:
        names.pop()
    table = TextTable(file, header_row, {name: [] for name in names if name})
    problems = _doubled(table, names)
    nameless = set()
    ragged: dict[int, list[int]] = {}
    for row, line in filled:
        cells = _fitted(line, len(names))
        if cells is None:
            table.incomplete = True
            ragged.setdefault(len(line), []).append(row)
            continue
        table.rows.append(row)
        for position, (name, cell) in enumerate(zip(names, cells, strict=True)):
            if not name and cell:
                nameless.add(position)
            elif name and position == names.index(name):
                table.cells[name].append(cell)
    for width, rows in ragged.items():
        wrong = f"the row has {counted(width, 'cell')}, the header has {len(names)}"
        if len(rows) > 1:
            wrong += f" ({listed_rows(rows)})"
        mend = "put every value under its column; a value with a comma needs quotation marks"
        problems.append(Problem(file, rows[0], None, "", wrong, mend))
    problems += [
        Problem(
            file,
            header_row,
            None,
            "",
            f"the {_ordinal(position + 1)} column has no name and is not read",
            "name it, or delete it",
            "warning",
        )
        for position in sorted(nameless)
    ]
    return table, problems


def _doubled(table: TextTable, names: list[str]) -> list[Problem]:
    return [
        Problem(
            table.file,
            table.header_row,
            name,
            "",
            f"{names.count(name)} columns have this name",
            "keep one of them",
        )
        for name in table.cells
        if names.count(name) > 1
    ]


def _fitted(line: list[str], width: int) -> list[str] | None:
    """Drop empty cells beyond the header; None if the row does not fit it."""
    if len(line) < width or any(line[width:]):
        return None
    return line[:width]


def _ordinal(number: int) -> str:
    if 10 <= number % 100 <= 20:
        return f"{number}th"
    return f"{number}{ {1: 'st', 2: 'nd', 3: 'rd'}.get(number % 10, 'th') }"
