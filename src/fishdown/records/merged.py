"""The merged cells of a sheet: whose value holds for each of its rows, and whose cannot."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from typing import TYPE_CHECKING

from fishdown.records.codes import Odd, Wrong
from fishdown.records.problems import Problem

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from fishdown.records.field import Field


@dataclass(frozen=True)
class Merged:
    """One merged cell that spans several rows: its rows, its first column from 0, its value."""

    first: int
    last: int
    place: int
    value: str


class Merges:
    """What the rows of a sheet take from merged cells.

    Parameters
    ----------
    merged : iterable of Merged
        Those that span several rows and are not blank.
    """

    def __init__(self, merged: Iterable[Merged]) -> None:
        self._all = list(merged)
        self._of_row: dict[int, list[tuple[int, str, str]]] = defaultdict(list)
        self._spread: dict[str, list[int]] = defaultdict(list)
        self._numbers: dict[str, list[Merged]] = defaultdict(list)

    def shown(self, row: int, line: list[str]) -> list[str]:
        """Return a line of the head of a sheet as a reader sees it."""
        for one in self._all:
            if one.first < row <= one.last:
                line = _put(line, one.place, one.value)
        return line

    def spread(self, places: Mapping[str, int], fields: Mapping[str, Field], header: int) -> None:
        """Let rows below the header have names, days and shared numbers of merged cells."""
        columns = {place: name for name, place in places.items() if name in fields}
        for one in self._all:
            name = columns.get(one.place)
            if name is None or one.first <= header:
                continue
            if fields[name].numeric and not fields[name].shared:
                self._numbers[name].append(one)
            for row in range(one.first + 1, one.last + 1):
                self._of_row[row].append((one.place, one.value, name))

    def filled(self, row: int, line: list[str]) -> list[str]:
        """Return a line below the header with what it takes from merged cells."""
        for place, value, name in self._of_row.get(row, ()):
            if place >= len(line) or not line[place]:
                line = _put(line, place, value)
                self._spread[name].append(row)
        return line

    def problems(self, file: str) -> list[Problem]:
        """Say which cells took their value from a merged one, and which numbers cannot."""
        found = [
            Problem(Odd.MERGED_CELLS, file, rows[0], name, values={"rows": rows})
            for name, rows in self._spread.items()
            if name not in self._numbers
        ]
        for name, several in self._numbers.items():
            first = several[0]
            said = {"count": first.last - first.first + 1, "rows": [one.first for one in several]}
            found.append(Problem(Wrong.MERGED_NUMBER, file, first.first, name, first.value, said))
        return found


def _put(line: list[str], place: int, value: str) -> list[str]:
    if place < len(line) and line[place]:
        return line
    put = [*line, *([""] * (place + 1 - len(line)))]
    put[place] = value
    return put
