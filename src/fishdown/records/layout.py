"""Tell the rows of a table from what people write around them: titles, totals, notes, headers."""

from __future__ import annotations

import re
from enum import Enum
from typing import TYPE_CHECKING

from fishdown.records.synonyms import columns_meant
from fishdown.records.totals import is_total_word, says_total

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from fishdown.records.field import Field

# So many filled lines are searched for the header.
MOST_ABOVE = 30
_FEWEST_MEANT = 2
# So many words in one cell alone are a note, not a name; fewer, if they end like a sentence.
_WORDS_OF_A_NOTE, _WORDS_OF_A_SENTENCE = 6, 3


class RowKind(Enum):
    """What a line below the header is."""

    DATA = "data"
    TOTAL = "total"
    NOTE = "note"
    HEADER = "header"
    NUMBERS = "numbers"


def as_name(heading: str) -> str:
    """Return a heading in the form in which headings are compared."""
    return " ".join(heading.lower().split())


def header_among(lines: Sequence[Sequence[str]], names: set[str]) -> int:
    """Find the header among the first filled lines of a file.

    Parameters
    ----------
    lines : sequence of sequence of str
        Their cells.
    names : set of str
        The headings that would be understood, as `as_name` has them.

    Returns
    -------
    int
        The first of the lines with most of these names, if it has two or more; else −1.
    """
    known = [len(names & {as_name(cell) for cell in line}) for line in lines]
    most = max(known, default=0)
    return known.index(most) if most > 1 else -1


def header_by_meaning(lines: Sequence[Sequence[str]], columns: Iterable[str], table: str) -> int:
    """Find the header among lines of which none has two names that are understood.

    Parameters
    ----------
    lines : sequence of sequence of str
        The first filled lines of a file.
    columns : iterable of str
        Those of the table.
    table : str

    Returns
    -------
    int
        The first of the lines with most headings that probably mean a column, if it has two or
        more of them and no number; else 0.
    """
    columns = list(columns)
    meant = [
        0
        if any(cell[:1].isdigit() for cell in line)
        else len(columns_meant([as_name(cell) for cell in line], columns, table))
        for line in lines
    ]
    most = max(meant, default=0)
    return meant.index(most) if most >= _FEWEST_MEANT else 0


class Layout:
    """Where the columns of a table stand.

    Parameters
    ----------
    header : tuple of str
        The headings, as `as_name` has them.
    places : mapping of str to int
        Column to its place in a line.
    fields : mapping of str to Field
        What the columns hold; those that are not read are absent.

    Attributes
    ----------
    names : list of str
        The columns of which every row needs a name or a day.
    """

    def __init__(
        self, header: tuple[str, ...], places: Mapping[str, int], fields: Mapping[str, Field]
    ) -> None:
        columns = {name: one for name, one in fields.items() if name in places}
        self._header, self._places = header, places
        self._of = {places[name]: one for name, one in columns.items()}
        self._required = [places[name] for name, one in columns.items() if one.required]
        self._days = [at for at, one in self._of.items() if one.kind in ("date", "time")]
        self.names = [name for name, one in columns.items() if one.required and not one.numeric]

    def kind_of(self, line: Sequence[str], *, first: bool) -> RowKind:
        """Say what a line below the header is.

        Parameters
        ----------
        line : sequence of str
            Its cells, trimmed, without blank ones at its end.
        first : bool
            Whether it is the first below the header, which may hold units.
        """
        lacks = any(place >= len(line) or not line[place] for place in self._required)
        undated = any(place < len(line) and not line[place][:1].isdigit() for place in self._days)
        # A header that is repeated has no day; only without days must every line be compared.
        if lacks or undated or not self._days:
            return self._odd_kind(line, first=first, whole=not (lacks or undated))
        return RowKind.DATA

    def _odd_kind(self, line: Sequence[str], *, first: bool, whole: bool) -> RowKind:
        if self._is_header(line):
            return RowKind.HEADER
        if whole:
            return RowKind.TOTAL if is_total_word(line[0]) else RowKind.DATA
        filled = {place: cell for place, cell in enumerate(line) if cell}
        if says_total(filled.values()):
            return RowKind.TOTAL
        if (len(filled) == 1 and self._is_note(*next(iter(filled.items())))) or (
            first and self._is_units(filled)
        ):
            return RowKind.NOTE
        numbers = all(cell.lstrip("+-")[:1].isdigit() for cell in filled.values())
        unnamed = not any(self._places[name] in filled for name in self.names)
        if len(self.names) > 1 and numbers and unnamed:
            return RowKind.NUMBERS
        return RowKind.DATA

    def _is_header(self, line: Sequence[str]) -> bool:
        names = [as_name(cell) for cell in line]
        return len(names) > 1 and names == list(self._header[: len(names)])

    def _is_note(self, place: int, cell: str) -> bool:
        if len(self._required) < 2 or not re.search(r"[^\W\d_]", cell):
            return False
        field = self._of.get(place)
        worded = field is not None and not field.numeric and field.kind != "text"
        least = _WORDS_OF_A_SENTENCE if cell.endswith((".", "!")) else _WORDS_OF_A_NOTE
        return (worded and not cell[0].isdigit()) or len(cell.split()) >= least

    def _is_units(self, filled: Mapping[int, str]) -> bool:
        """Return whether a line says of each number and day how it is written."""
        told = [
            cell for place, cell in filled.items()
            if place in self._of and (self._of[place].numeric or place in self._days)
        ]  # fmt: skip
        return len(told) > 1 and not any(re.search(r"\d", cell) for cell in told)
