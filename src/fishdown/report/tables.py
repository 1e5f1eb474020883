"""Tables of the page: each number keeps its full value and says which cell of which file it is."""

from __future__ import annotations

import base64
from dataclasses import dataclass
from typing import TYPE_CHECKING

import pandas as pd

from fishdown.spreadsheet import plain, safe_csv
from fishdown.words import amount

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence


@dataclass(frozen=True)
class Number:
    """A number on the page.

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


@dataclass(frozen=True)
class Cell:
    """A cell of a table: words, or a number with its interval.

    Attributes
    ----------
    text : str
        Words before the number; the whole cell where there is no number.
    numbers : tuple of Number
        None; one; or median, low and high.
    unit : str
        Behind the number.
    """

    text: str = ""
    numbers: tuple[Number, ...] = ()
    unit: str = ""


@dataclass(frozen=True)
class Table:
    """A table of the page.

    Attributes
    ----------
    caption : str
        What the table shows, with units.
    headings : tuple of str
    rows : tuple of tuple of Cell
        The first ``heads`` cells of each row are its headings.
    heads : int
    """

    caption: str
    headings: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]
    heads: int = 2


@dataclass(frozen=True)
class Source:
    """A data frame whose cells the page shows, under the name of its file."""

    name: str
    frame: pd.DataFrame

    def number(
        self, row: int, column: str, show: Callable[[float], str] = amount, times: float = 1.0
    ) -> Number:
        """Return one cell as a number to be shown."""
        value = self.frame[column].iloc[row]
        return Number(
            show(times * float(value)), plain(value), f"{self.name}:{row}:{column}", times
        )

    def cell(
        self,
        row: int,
        columns: str | Sequence[str],
        unit: str = "",
        *,
        show: Callable[[float], str] = amount,
        times: float = 1.0,
        absent: str = "–",
    ) -> Cell:
        """Return a number, or a median with low and high, as a cell; words where it is missing."""
        names = (columns,) if isinstance(columns, str) else tuple(columns)
        if pd.isna(self.frame[names[0]].iloc[row]):
            return Cell(absent)
        numbers = tuple(self.number(row, name, show, times) for name in names)
        return Cell(numbers=numbers, unit=unit)

    def words(self, row: int, column: str) -> Cell:
        """Return a cell of words."""
        value = self.frame[column].iloc[row]
        return Cell("–" if pd.isna(value) else str(value))

    def download(self) -> str:
        """Return the table as a data URI of a CSV file without formulas."""
        return "data:text/csv;charset=utf-8;base64," + base64.b64encode(
            safe_csv(self.frame).encode("utf-8")
        ).decode("ascii")


def whole(value: float) -> str:
    """Write a count."""
    return f"{value:,.0f}"


def tenths(value: float) -> str:
    """Write a share in percent to the tenth, never as 0."""
    return f"{value:.1f}" if value >= 0.1 else "under 0.1"
