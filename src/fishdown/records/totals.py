"""Lines of totals: their words, and whether they are the sums of the rows above."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from fishdown.records.field import Field

_WORD = (
    r"totals?|sums?|average|avg\.?|means?|median|summe|gesamt|insgesamt|totaux|totale|totaal|suma"
)
_OF_TOTALS = rf"((grand|sub|season|overall|running)[ -]?)?({_WORD})"
_TOTAL = re.compile(rf"{_OF_TOTALS}( (of|for|in)\b.*)?:?|.* (sub)?totals?:?|σ|∑", re.IGNORECASE)
# Where a line lacks nothing, only these words are no name.
_BARE_TOTAL = re.compile(rf"{_OF_TOTALS}:?", re.IGNORECASE)
_AVERAGE = re.compile(r"average|avg|mean|median", re.IGNORECASE)
# One row alone is its own sum.
_FEWEST_ROWS = 2


def says_total(cells: Iterable[str]) -> bool:
    """Return whether a line that lacks what its columns need says that it holds totals."""
    return any(_TOTAL.fullmatch(" ".join(cell.split())) for cell in cells)


def is_total_word(cell: str) -> bool:
    """Return whether a cell holds a word for totals, and nothing else."""
    return _BARE_TOTAL.fullmatch(cell) is not None


class Totals:
    """The running sums of the counts of a table: of all rows, and of those since the last total.

    Parameters
    ----------
    places : mapping of str to int
        Column to its place in a line.
    fields : mapping of str to Field
        What the columns hold.
    """

    def __init__(self, places: Mapping[str, int], fields: Mapping[str, Field]) -> None:
        counted = {
            name: place
            for name, place in places.items()
            if name in fields and fields[name].kind == "count" and name != "order"
        }
        self._places = counted
        self._sums: dict[str, list[int]] = {name: [0, 0] for name in counted}
        self._rows = 0

    def add(self, line: Sequence[str]) -> None:
        """Take up a row; a column with something else than whole numbers has no sum."""
        self._rows += 1
        for name, place in self._places.items():
            cell = line[place] if place < len(line) else ""
            if cell.isdecimal() and name in self._sums:
                self._sums[name][0] += int(cell)
                self._sums[name][1] += int(cell)
            elif cell:
                self._sums.pop(name, None)

    def are(self, line: Sequence[str]) -> bool:
        """Return whether all counts of a line, and there are some, are sums of the rows above."""
        counts = self._counts(line)
        return (
            self._rows >= _FEWEST_ROWS
            and bool(counts)
            and all(count in self._sums.get(name, ()) for name, count in counts.items())
        )

    def take(self, line: Sequence[str]) -> dict[str, tuple[int, int]]:
        """Close the rows that a line of totals closes.

        Returns
        -------
        dict of str to (int, int)
            The columns in which it differs from the sums: what it says, and the sum of all rows.
        """
        off = {}
        if not any(_AVERAGE.search(cell) for cell in line):
            for name, count in self._counts(line).items():
                if name in self._sums and count not in self._sums[name]:
                    off[name] = (count, self._sums[name][0])
        for sums in self._sums.values():
            sums[1] = 0
        return off

    def _counts(self, line: Sequence[str]) -> dict[str, int]:
        return {
            name: int(line[place])
            for name, place in self._places.items()
            if place < len(line) and line[place].isdecimal()
        }
