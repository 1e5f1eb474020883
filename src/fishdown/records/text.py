"""A table as text: header, cells and the line each row stands on, before any value is read."""

from __future__ import annotations

from collections import Counter
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
        sheet, rather than for a slip.

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
        return None, [
            Problem(file, None, None, "", "empty file", "write the column names and the rows")
        ]
    if len(header) == 1:
        for sign, name in ((";", "semicolons"), ("\t", "tabs")):
            if sign in header[0]:
                mend = "save the file again as CSV with commas between the columns"
                wrong = f"the columns are separated by {name}, not by commas"
                return None, [Problem(file, header_row, None, "", wrong, mend)]

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
    problems = _doubled(table, names)
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
            f"the {_ordinal(place + 1)} column has no name and is not read",
            "name it, or delete it",
            "warning",
        )
        for place in sorted(filled_nameless)
    ]
    return table, problems


def _trimmed(line: list[str]) -> list[str]:
    """Drop blank cells at the end of a line."""
    end = len(line)
    while end and not line[end - 1].strip():
        end -= 1
    return line[:end]


def _doubled(table: TextTable, names: list[str]) -> list[Problem]:
    counts = Counter(names)
    return [
        Problem(
            table.file,
            table.header_row,
            name,
            "",
            f"{counts[name]} columns have this name",
            "keep one of them",
        )
        for name in table.cells
        if counts[name] > 1
    ]


def _ordinal(number: int) -> str:
    if 10 <= number % 100 <= 20:
        return f"{number}th"
    return f"{number}{ {1: 'st', 2: 'nd', 3: 'rd'}.get(number % 10, 'th') }"
