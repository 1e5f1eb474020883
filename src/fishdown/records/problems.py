"""One thing wrong in the records, said so that the crew can mend it."""

from __future__ import annotations

import difflib
from collections import Counter
from dataclasses import dataclass, field
from enum import Enum
from functools import total_ordering
from typing import TYPE_CHECKING, Any, Literal

from fishdown.errors import FishdownError
from fishdown.sentences import names_in, sentence
from fishdown.words import counted, spans_of_rows

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

_LONGEST_CELL = 60
_LONGEST_PLACE = 200
_LONGEST_WORDS = 1_000
# Longer words and longer lists than these are not searched for names that look alike: the search
# takes time with the square of a word's length, and with the length of the list.
_LONGEST_NAME = 200
_MOST_NAMES = 2_000
# An error throughout a table is clear from this many lines, and nobody reads this many more.
_MOST_ALIKE = 20
_MOST_LINES = 200


class ProblemCode(Enum):
    """What can be wrong. The codes of a room are a table with a sentence each.

    Parameters
    ----------
    clauses : str
        Template (see `fishdown.sentences`) of what is wrong → how to mend it. Lines are joined, by
        a space unless the next begins with "<,". The second clause may be left to the advice of
        the column or setting.
    """

    def __init__(self, clauses: str) -> None:
        self.wrong, _, mend = " ".join(clauses.split()).replace(" <,", "<,").partition(" → ")
        self.mend = mend or "{advice}"
        self.names = names_in(clauses) | {"advice", "throughout", "us"}

    @property
    def severity(self) -> Literal["error", "warning"]:
        """An error stops the reading, a warning does not."""
        return "error"


@total_ordering
@dataclass(frozen=True)
class Problem:
    """One thing wrong in one place of the records.

    Problems are ordered: errors before warnings, then by file, row and column.

    Attributes
    ----------
    code : ProblemCode
        What is wrong.
    file : str
        File name; for a workbook ``book.xlsx, sheet pulls``.
    row : int or None
        Line of the file (or row of the sheet) as a person counts it, header = 1;
        None if the problem is not in one row.
    column : str or None
        Column (or setting) concerned, None if it is the row or file as a whole.
    cell : str
        What the cell says, as written; empty if it says nothing.
    values : mapping of str to object
        What the sentences of its code name; others are left out. Of a problem that runs through a
        column, ``throughout`` has all its rows.
    """

    code: ProblemCode
    file: str
    row: int | None = None
    column: str | None = None
    cell: str = ""
    values: Mapping[str, Any] = field(default_factory=dict, hash=False)

    def __post_init__(self) -> None:
        named = {name: value for name, value in self.values.items() if name in self.code.names}
        object.__setattr__(self, "values", named)

    @property
    def severity(self) -> Literal["error", "warning"]:
        """An error stops the reading, a warning does not."""
        return self.code.severity

    @property
    def wrong(self) -> str:
        """What is wrong, in words."""
        return sentence(self.code.wrong, self.values)

    @property
    def mend(self) -> str:
        """How to mend it, in words."""
        return sentence(self.code.mend, self.values)

    def __str__(self) -> str:
        throughout = self.values.get("throughout")
        where = self._through(throughout) if throughout else self._where(self.row)
        if self.cell:
            sign = ", such as" if throughout else " ="
            where += f'{sign} "{shortened(self.cell)}"'
        # Names and cells among the words are whatever the files say, of any length.
        wrong, mend = shortened(self.wrong, _LONGEST_WORDS), shortened(self.mend, _LONGEST_WORDS)
        return f"{self._lead()}{where}: {wrong}; {mend}"

    def _lead(self) -> str:
        return "warning: " if self.severity == "warning" else ""

    def _through(self, rows: Sequence[int]) -> str:
        """Name the place of a problem that runs through a column."""
        file = printable(self.file)[-_LONGEST_PLACE:]
        return f"{file}, column {shortened(self.column or '')}, {spans_of_rows(rows)}"

    def _where(self, row: int | None) -> str:
        place = [printable(self.file)[-_LONGEST_PLACE:]]
        if row is not None:
            place.append(f"row {row}")
        if self.column is not None:
            place.append(shortened(self.column))
        return ", ".join(place)

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
            self.cell,
            self.wrong,
            self.mend,
        )


def listed(problems: Sequence[Problem]) -> list[str]:
    """Write problems as lines for people, who need not read a thousand alike.

    Parameters
    ----------
    problems : sequence of Problem
        In the order in which to write them.

    Returns
    -------
    list of str
        A line a problem; of more than 20 errors (or warnings) in one column, and of more than
        200 lines altogether, the first of them and how many more there are.
    """
    shown: Counter[str] = Counter()
    hidden: Counter[str] = Counter()
    lines: list[str] = []
    for problem in problems:
        kind = problem._lead() + problem._where(None)
        if shown[kind] < _MOST_ALIKE and len(lines) < _MOST_LINES:
            lines.append(str(problem))
            shown[kind] += 1
        else:
            hidden[kind] += 1
    elsewhere = 0
    for kind, count in hidden.items():
        if shown[kind] == _MOST_ALIKE:
            lines.append(f"{kind}: {counted(count, 'more problem')} like these")
        else:
            elsewhere += count
    if elsewhere:
        lines.append(f"{counted(elsewhere, 'more problem')} elsewhere; mend these first")
    return lines


def nearest(word: str, known: Iterable[str]) -> str | None:
    """Find the known name that looks most like a mistyped one.

    Parameters
    ----------
    known : iterable of str
        The names that would have been understood.

    Returns
    -------
    str or None
        The nearest known name, None if none looks alike, or if the word is longer or the names
        are more than the search is worth.
    """
    if len(word) > _LONGEST_NAME:
        return None
    names = {name.casefold(): name for name in known if len(name) <= _LONGEST_NAME}
    if len(names) > _MOST_NAMES:
        return None
    found = difflib.get_close_matches(word.casefold(), names, n=1, cutoff=0.6)
    return names[found[0]] if found else None


class Suggestions:
    """The known names that look like mistyped ones, for a table of any length.

    Parameters
    ----------
    known : iterable of str
        The names that would have been understood.
    """

    def __init__(self, known: Iterable[str]) -> None:
        self._known = list(known)
        self._found: dict[str, str | None] = {}

    def of(self, word: str) -> str | None:
        """Return the nearest known name; None if there is none, or after twenty other words.

        The search takes time with the number of names. More words are not shown anyway, and are
        no typing errors.
        """
        if word not in self._found and len(self._found) < _MOST_ALIKE:
            self._found[word] = nearest(word, self._known)
        return self._found.get(word)


def printable(text: str) -> str:
    """Write letters that no terminal or page can show as escapes.

    Parameters
    ----------
    text : str
        Anything, such as a file name that is not UTF-8, or a cell with control characters.
    """
    return "".join(
        letter if letter.isprintable() else letter.encode("unicode_escape").decode("ascii")
        for letter in text
    )


def shortened(text: str, most: int = _LONGEST_CELL) -> str:
    """Keep what a file says on one readable line.

    Parameters
    ----------
    most : int
        How many letters are kept.
    """
    # What is cut off anyway need not be split.
    line = printable(" ".join(text[: 20 * most].split()))
    return line if len(line) <= most else f"{line[: most - 1]}…"


class NoPlaceError(ValueError):
    """Something is wrong with a cell or file, whose place is known further up.

    Parameters
    ----------
    code : ProblemCode
        What is wrong.
    row : int, optional
        Line of the file, if it is one.
    **values
        What the two clauses of its code name.
    """

    def __init__(self, code: ProblemCode, row: int | None = None, **values: object) -> None:
        super().__init__(code.name)
        self.code = code
        self.row = row
        self.values = values

    @property
    def wrong(self) -> str:
        """What is wrong, in words."""
        return sentence(self.code.wrong, self.values)

    def __str__(self) -> str:
        return f"{self.wrong}; {sentence(self.code.mend, self.values)}"

    def at(
        self, file: str, row: int | None = None, column: str | None = None, cell: str = "",
        **advice: str,
    ) -> Problem:  # fmt: skip
        """Return it as a problem in its place, with the advice of the column or setting."""
        return Problem(self.code, file, row or self.row, column, cell, {**self.values, **advice})


class RecordsError(FishdownError, ValueError):
    """The records have problems; all of them are listed, not only the first.

    Attributes
    ----------
    problems : tuple of Problem
        Every problem found, in the order of the files and rows; of many alike, the text of the
        error shows the first and a count.
    """

    def __init__(self, problems: Sequence[Problem]) -> None:
        self.problems = tuple(problems)
        count = sum(problem.severity == "error" for problem in self.problems)
        lines = [f"{counted(count, 'problem')} in the records:"]
        lines += [f"  {line}" for line in listed(self.problems)]
        super().__init__("\n".join(lines))
