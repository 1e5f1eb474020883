"""One thing wrong in the records, said so that the crew can mend it."""

from __future__ import annotations

import difflib
from dataclasses import dataclass
from functools import total_ordering
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

_LONGEST_VALUE = 60
_MOST_ROWS = 5


@total_ordering
@dataclass(frozen=True)
class Problem:
    """One thing wrong in one place of the records.

    Problems are ordered: errors before warnings, then by file, row and column.

    Attributes
    ----------
    file : str
        File name; for a workbook ``book.xlsx, sheet pulls``.
    row : int or None
        Line of the file (or row of the sheet) as a person counts it, header = 1;
        None if the problem is not in one row.
    column : str or None
        Column (or setting) concerned, None if it is the row or file as a whole.
    value : str
        What the cell says, as written; empty if it says nothing.
    wrong : str
        What is wrong.
    mend : str
        How to mend it.
    severity : {"error", "warning"}
        An error stops the reading, a warning does not.
    """

    file: str
    row: int | None
    column: str | None
    value: str
    wrong: str
    mend: str
    severity: Literal["error", "warning"] = "error"

    def __str__(self) -> str:
        place = [self.file]
        if self.row is not None:
            place.append(f"row {self.row}")
        if self.column is not None:
            place.append(self.column)
        where = ", ".join(place)
        if self.value:
            where += f' = "{_shortened(self.value)}"'
        lead = "warning: " if self.severity == "warning" else ""
        return f"{lead}{where}: {self.wrong}; {self.mend}"

    def __lt__(self, other: object) -> bool:
        # A generated order would compare a missing row (None) with a number and fail.
        if not isinstance(other, Problem):
            return NotImplemented
        return self._order() < other._order()

    def _order(self) -> tuple[bool, str, int, str, str, str, str]:
        return (
            self.severity == "warning",
            self.file,
            self.row or 0,
            self.column or "",
            self.value,
            self.wrong,
            self.mend,
        )


def nearest(word: str, known: Iterable[str]) -> str | None:
    """Find the known name that looks most like a mistyped one.

    Parameters
    ----------
    word : str
        The name as written.
    known : iterable of str
        The names that would have been understood.

    Returns
    -------
    str or None
        The nearest known name, None if none looks alike.
    """
    names = {name.casefold(): name for name in known}
    found = difflib.get_close_matches(word.casefold(), names, n=1, cutoff=0.6)
    return names[found[0]] if found else None


def counted(number: float, one: str, many: str | None = None) -> str:
    """Write a count with its noun: ``1 pull``, ``2,310 fish``.

    Parameters
    ----------
    number : float
        How many; shown as a whole number with thousands separators.
    one : str
        The noun for one.
    many : str, optional
        The noun for several; `one` with an s if left out.

    Returns
    -------
    str
        The number and its noun.
    """
    noun = one if round(number) == 1 else (many or f"{one}s")
    return f"{number:,.0f} {noun}"


def listed_rows(rows: Sequence[int]) -> str:
    """Write row numbers for a sentence: ``row 7``, ``rows 7, 9, 12, 13, 15 and 4 more``.

    Parameters
    ----------
    rows : sequence of int
        The row numbers, at least one.

    Returns
    -------
    str
        At most five of them, and how many more.
    """
    if len(rows) == 1:
        return f"row {rows[0]}"
    shown, hidden = rows[:_MOST_ROWS], len(rows) - _MOST_ROWS
    if hidden > 0:
        return f"rows {', '.join(map(str, shown))} and {hidden:,} more"
    return f"rows {', '.join(map(str, shown[:-1]))} and {shown[-1]}"


def _shortened(value: str) -> str:
    """Keep one problem on one readable line, whatever the cell holds."""
    line = " ".join(value.split())
    return line if len(line) <= _LONGEST_VALUE else f"{line[: _LONGEST_VALUE - 1]}…"
