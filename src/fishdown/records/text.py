"""A table as text: header, cells and the line each row stands on, before any value is read."""

from __future__ import annotations

from collections import Counter, defaultdict
from dataclasses import dataclass, field
from itertools import chain, islice
from typing import TYPE_CHECKING

from fishdown.records.codes import Odd, Wrong
from fishdown.records.layout import (
    MOST_ABOVE,
    Layout,
    RowKind,
    as_name,
    header_among,
    header_by_meaning,
)
from fishdown.records.merged import Merges
from fishdown.records.problems import Problem
from fishdown.records.totals import Totals
from fishdown.records.us_columns import us_names, us_unit, with_us_names

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from fishdown.records.field import Field
    from fishdown.records.merged import Merged
    from fishdown.units import UsUnit


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
        Column name (trimmed, lower case; ours where the crew has its own heading) to its cells;
        all columns are equally long.
    rows : list of int
        Line of each row in the file.
    incomplete : bool
        True if rows were left out because their cells could not be separated.
    headings : dict of str to str
        Column to the crew's own heading of it, as it stands in the file.
    us : dict of str to UsUnit
        The columns that are written in US customary units.
    written : dict of str to str
        Every column to its heading as it stands in the file.
    """

    file: str
    header_row: int
    cells: dict[str, list[str]]
    rows: list[int] = field(default_factory=list)
    incomplete: bool = False
    headings: dict[str, str] = field(default_factory=dict)
    us: dict[str, UsUnit] = field(default_factory=dict)
    written: dict[str, str] = field(default_factory=dict)


def text_table(
    file: str,
    lines: Iterable[tuple[int, list[str]]],
    fields: Mapping[str, Field],
    headings: Mapping[str, str] | None = None,
    merged: Iterable[Merged] | None = None,
    name: str = "",
) -> tuple[TextTable | None, list[Problem]]:
    """Sort the lines of a file into columns.

    Parameters
    ----------
    file : str
        Name to show in problems.
    lines : iterable of (int, list of str)
        Line number and cells of each line, the header among them; blank lines may be there.
    fields : mapping of str to Field
        What the columns hold that would be read.
    headings : mapping of str to str, optional
        Column to the crew's own heading of it.
    merged : iterable of Merged, optional
        The merged cells of a sheet; None for a file of text. In a sheet, a line that is too short
        stands for one with blank cells at its end, and cells beyond the header are a column
        without a name.
    name : str, optional
        Which table it is, to guess at headings.

    Returns
    -------
    table : TextTable or None
        None if there is no header to read.
    problems : list of Problem
        Ragged rows, doubled or nameless columns, and lines that are not read: titles, totals,
        notes.
    """
    ours = {as_name(heading): column for column, heading in (headings or {}).items()}
    merges = Merges(merged or ())
    filled = ((row, trimmed, len(line)) for row, line in lines if (trimmed := _trimmed(line)))
    head = list(islice(filled, MOST_ABOVE))
    if not head:
        return None, [Problem(Wrong.EMPTY_FILE, file)]
    # A header of two rows shows the upper one's words in the lower one, where cells are merged.
    shown = [merges.shown(row, line) for row, line, _ in head]
    place = header_among(shown, {*with_us_names(fields), *ours})
    if place < 0:
        place = header_by_meaning(shown, fields, name)
    sorter = _Sorter(
        file, (head[place][0], shown[place]), fields, ours, merges, sheet=merged is not None
    )
    problems = sorter.titles(head[:place])
    for row, line, width in chain(head[place + 1 :], filled):
        sorter.sort(row, line, width)
    return sorter.table, problems + sorter.problems()


class _Sorter:
    """Sort the lines below a header, one by one, and keep what is odd about them."""

    def __init__(
        self,
        file: str,
        header: tuple[int, list[str]],
        fields: Mapping[str, Field],
        ours: Mapping[str, str],
        merges: Merges,
        *,
        sheet: bool,
    ) -> None:
        row, line = header
        written = [as_name(heading) for heading in line]
        us = {name: column for column, name in us_names(fields).items()}
        named = [ours.get(name, name) for name in written]
        self._names = [us.get(name, name) for name in named]
        self._written = written
        self._sheet, self._merges = sheet, merges
        self.table = TextTable(file, row, {name: [] for name in self._names if name})
        own = {name: line[at] for at, name in enumerate(self._names) if name != written[at]}
        self.table.headings = own
        self.table.written = {name: line[at] for at, name in enumerate(self._names) if name}
        self.table.us = {us[name]: us_unit(us[name]) for name in named if name in us}
        places = {name: self._names.index(name) for name in self.table.cells}
        self._places = places
        self._totals = Totals(places, fields)
        self._layout = Layout(tuple(written), places, fields)
        self._nameless = [at for at, name in enumerate(self._names) if not name]
        self._filled_nameless: dict[int, int] = {}
        self._ragged: dict[int, list[int]] = defaultdict(list)
        self._others: dict[RowKind, list[tuple[int, str]]] = defaultdict(list)
        self._off_totals: list[Problem] = []
        merges.spread(places, fields, row)

    def titles(self, above: list[tuple[int, list[str], int]]) -> list[Problem]:
        """Say which lines above the header are not read."""
        if not above:
            return []
        rows = [row for row, _, _ in above]
        said = {"header": self.table.header_row, "rows": rows}
        title = " ".join(cell for cell in above[0][1] if cell)
        return [Problem(Odd.TITLE_ROWS, self.table.file, rows[0], None, title, said)]

    def sort(self, row: int, line: list[str], width: int) -> None:
        """Take up one line."""
        table, names = self.table, self._names
        line = self._merges.filled(row, line)
        kind = self._layout.kind_of(line, first=not table.rows)
        if kind is RowKind.NUMBERS and self._totals.are(line):
            kind = RowKind.TOTAL
        if kind is RowKind.TOTAL:
            self._off_totals += [
                Problem(Odd.TOTAL_OFF, table.file, row, name, str(said), {"sum": total})
                for name, (said, total) in self._totals.take(line).items()
            ]
        if kind is not RowKind.DATA:
            table.incomplete |= kind is RowKind.NUMBERS
            said = next(cell for cell in line if cell)
            self._others[kind].append((row, said))
            return
        if not self._sheet and (len(line) > len(names) or width < len(names)):
            table.incomplete = True
            self._ragged[width].append(row)
            return
        beyond = range(len(names), len(line))
        for place in (*self._nameless, *beyond):
            if place < len(line) and line[place]:
                self._filled_nameless.setdefault(place, row)
        cells = [line[place] if place < len(line) else "" for place in self._places.values()]
        # A remark beside the table stands in a row of its own columns only.
        if any(cells):
            table.rows.append(row)
            self._totals.add(line)
            for column, cell in zip(table.cells.values(), cells, strict=True):
                column.append(cell)

    def problems(self) -> list[Problem]:
        """Return what is odd or wrong, once all lines are sorted."""
        table = self.table
        problems = []
        for name, count in Counter(self._names).items():
            if not name or count == 1:
                continue
            pairs = zip(self._names, self._written, strict=True)
            written = list(dict.fromkeys(heading for one, heading in pairs if one == name))
            said = {"columns": count, "headings": " and ".join(written)}
            code = Wrong.COLUMN_TWICE if len(written) == 1 else Wrong.COLUMN_UNDER_TWO_HEADINGS
            problems.append(Problem(code, table.file, table.header_row, name, values=said))
        for width, rows in self._ragged.items():
            widths = {"cells": width, "header": len(self._names), "rows": rows}
            problems.append(Problem(Wrong.RAGGED_ROW, table.file, rows[0], values=widths))
        for place, filled in sorted(self._filled_nameless.items()):
            said = {"place": _ordinal(place + 1), "filled": filled}
            problems.append(
                Problem(Odd.COLUMN_WITHOUT_NAME, table.file, table.header_row, values=said)
            )
        for kind, found in self._others.items():
            rows = [row for row, _ in found]
            said = {"rows": rows, "columns": self._layout.names}
            problems.append(Problem(_CODES[kind], table.file, rows[0], None, found[0][1], said))
        return [*problems, *self._off_totals, *self._merges.problems(table.file)]


_CODES = {
    RowKind.TOTAL: Odd.TOTAL_ROWS,
    RowKind.NOTE: Odd.NOTE_ROWS,
    RowKind.HEADER: Odd.HEADER_AGAIN,
    RowKind.NUMBERS: Wrong.NUMBERS_ALONE,
}


def _trimmed(line: list[str]) -> list[str]:
    """Drop blanks around each cell, and blank cells at the end of a line."""
    cells = [cell.strip() for cell in line]
    while cells and not cells[-1]:
        cells.pop()
    return cells


def _ordinal(number: int) -> str:
    if 10 <= number % 100 <= 20:
        return f"{number}th"
    return f"{number}{ {1: 'st', 2: 'nd', 3: 'rd'}.get(number % 10, 'th') }"
