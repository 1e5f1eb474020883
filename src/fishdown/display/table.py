"""A table before it is rendered: each number keeps its full value and the cell it comes from."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Literal

import pandas as pd

from fishdown.equality import by_value
from fishdown.spreadsheet import plain
from fishdown.statements.in_units import shown_name, shown_value
from fishdown.units import label
from fishdown.words import amount, percent_with_error

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

POINTS = ("median", "low", "high")
ABSENT, WITHHELD = "–", "withheld"


@dataclass(frozen=True)
class Number:
    """A number to be shown.

    Attributes
    ----------
    text : str
        As it is read.
    value : str
        The whole number, as it stands in the file.
    source : str
        "file:row:column", rows counted from 0; the tests look it up.
    times : float
        What the value is multiplied by before it is written: 100 for percent.
    """

    text: str
    value: str
    source: str
    times: float = 1.0

    def __str__(self) -> str:
        return self.text


@dataclass(frozen=True)
class Cell:
    """A cell of a table.

    Attributes
    ----------
    lines : tuple of tuple of str or Number
        What stands in each line, one after the other: a median, and below it its interval.
    """

    lines: tuple[tuple[str | Number, ...], ...]

    def __str__(self) -> str:
        return "\n".join("".join(map(str, line)) for line in self.lines)

    @property
    def has_numbers(self) -> bool:
        """Whether any of it is a number."""
        return any(map(has_number, self.lines))


def has_number(line: tuple[str | Number, ...]) -> bool:
    """Return whether any part of a line is a number."""
    return any(isinstance(part, Number) for part in line)


def words(*lines: str) -> Cell:
    """Make a cell of words, one line each."""
    return Cell(tuple((line,) for line in lines))


def interval(low: float, median: float, high: float, show: Callable[[float], str] = amount) -> Cell:
    """Make a cell of a median and its interval, of numbers that no file holds."""
    return words(show(median), f"{show(low)}–{show(high)}")


@dataclass(frozen=True)
class Column:
    """A column of a table.

    Attributes
    ----------
    heading : str
        With the unit; a line break is where a narrow column may be broken.
    kind : {"words", "whole", "number"}
        Words may be wrapped; whole words and numbers never, and numbers stand to the right.
    roomy : bool
        Only for where there is room: not for a terminal of 80 characters.
    """

    heading: str
    kind: Literal["words", "whole", "number"] = "words"
    roomy: bool = False


# A terminal joins the two into one.
PLACE = (Column("Lake"), Column("Season"))


@dataclass(frozen=True)
class Table:
    """A table to be rendered.

    Attributes
    ----------
    title : str
        What the table shows, with units. Here and in headings and notes, units are those that
        are shown, see `fishdown.units.label`.
    columns : tuple of Column
    rows : tuple of tuple of Cell
        The first ``heads`` cells of each row are its headings.
    notes : str
        What a reader has to know beside it.
    heads : int
    dense : bool
        Whether a terminal sets an interval in brackets behind its median, not below it.
    """

    title: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[Cell, ...], ...]
    notes: str = ""
    heads: int = 2
    dense: bool = False

    def __post_init__(self) -> None:
        for name in ("title", "notes"):
            object.__setattr__(self, name, label(getattr(self, name)))
        columns = tuple(replace(one, heading=label(one.heading)) for one in self.columns)
        object.__setattr__(self, "columns", columns)


@by_value
@dataclass(frozen=True)
class Source:
    """A data frame whose cells are shown, under the name of its file."""

    name: str
    frame: pd.DataFrame

    def number(
        self, row: int, column: str, show: Callable[[float], str] = amount, times: float = 1.0
    ) -> Number:
        """Return one cell as a number to be shown."""
        value = shown_value(self.frame, row, column)
        source = f"{self.name}:{row}:{shown_name(column)}"
        return Number(show(times * float(value)), plain(value), source, times)

    def cell(
        self,
        row: int,
        columns: str | Sequence[str],
        *,
        show: Callable[[float], str] = amount,
        times: float = 1.0,
        absent: str = ABSENT,
    ) -> Cell:
        """Return a number, or a median above low and high, as a cell; words where it is missing."""
        names = (columns,) if isinstance(columns, str) else tuple(columns)
        if pd.isna(self.frame[names[0]].iloc[row]):
            return words(absent)
        numbers = [self.number(row, name, show, times) for name in names]
        if len(numbers) == 1:
            return Cell(((numbers[0],),))
        median, low, high = numbers
        return Cell(((median,), (low, "–", high)))

    def chance(self, row: int, *, column: str = "probability_below", absent: str = ABSENT) -> Cell:
        """Return a probability, by default that of being below the threshold, with its error."""
        error = float(self.frame["mc_error"].iloc[row])
        return self.cell(row, column, show=lambda p: percent_with_error(p, error), absent=absent)

    def words(self, row: int, column: str) -> Cell:
        """Return a cell of words."""
        value = self.frame[column].iloc[row]
        text = ABSENT if pd.isna(value) else str(value)
        return words(label(text) if column == "unit" else text)

    def by_season(self, column: str) -> dict[tuple[str, str], dict[Any, int]]:
        """Return, for each lake and season, which row holds each value of a column."""
        rows: dict[tuple[str, str], dict[Any, int]] = {}
        names = (self.frame[name] for name in ("lake", "season", column))
        for row, (lake, season, value) in enumerate(zip(*names, strict=True)):
            rows.setdefault((str(lake), str(season)), {})[value] = row
        return rows

    def place(self, row: int) -> tuple[Cell, Cell]:
        """Return lake and season."""
        return self.words(row, "lake"), self.words(row, "season")

    def missing(self, row: int) -> str:
        """Return why a number of a row is missing: withheld by a gate, or not estimated."""
        return ABSENT if self.frame["gate"].iloc[row] == "passed" else WITHHELD


def whole(value: float) -> str:
    """Write a count."""
    return f"{value:,.0f}"


def tenths(value: float) -> str:
    """Write a share in percent to the tenth, never as 0."""
    return f"{value:.1f}" if value >= 0.1 else "<0.1"


def two_digits(value: float) -> str:
    """Write a number with two significant digits."""
    return f"{value:,.0f}" if value >= 99.5 else f"{value:#.2g}".rstrip(".")
