"""How a crew writes dates, decimals, times without an offset, and its headings."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from datetime import date
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping
    from datetime import tzinfo

Decimal = Literal["point", "comma"]

ISO_DATES = "year-month-day"
DATE_STYLES = (
    "day.month.year", "day/month/year", "day-month-year", "month/day/year", "month-day-year",
    "year.month.day", "year/month/day", ISO_DATES,
)  # fmt: skip
DECIMALS: tuple[Decimal, ...] = ("point", "comma")
ISO_DAY = re.compile(r"\d{4}-\d{2}-\d{2}", re.ASCII)
_PARTS = re.compile(r"(\d{1,4})\s*([./-])\s*(\d{1,2})\s*\2\s*(\d{1,4})", re.ASCII)
# A year of two digits is of this century; no antenna, net or tag is older.
_CENTURY = 2000


@dataclass(frozen=True)
class Notation:
    """How the cells of a campaign are written.

    Attributes
    ----------
    dates : str
        The order of day, month and year and the sign between them, one of `DATE_STYLES`. ISO
        dates are understood beside any.
    decimal : {"point", "comma"}
        The sign before the decimals.
    zone : datetime.tzinfo or None
        Of clocks that wrote times without an offset.
    headings : mapping of str to mapping of str to str
        Table to column to the crew's own heading of it.
    """

    dates: str = ISO_DATES
    decimal: Decimal = "point"
    zone: tzinfo | None = None
    headings: Mapping[str, Mapping[str, str]] = field(default_factory=dict)

    def day(self, text: str) -> date | None:
        """Return the day that a text in the style of this notation says; None if in no such style.

        Raises
        ------
        ValueError
            If the calendar has no such day.
        """
        return _day(text, self.dates)

    def number(self, value: float) -> str:
        """Write a number."""
        text = str(int(value)) if value.is_integer() else str(value)
        return text.replace(".", ",") if self.decimal == "comma" else text

    @property
    def example(self) -> str:
        """A day in the style of this notation."""
        return example_of(self.dates)


def styles_of(texts: Iterable[str]) -> list[str]:
    """Return the styles in which each of some texts is a day of the calendar."""
    styles = list(DATE_STYLES)
    for text in texts:
        styles = [style for style in styles if day_of_style(text, style)]
    return styles


def example_of(style: str) -> str:
    """Write a day in a style."""
    return style.replace("day", "14").replace("month", "06").replace("year", "2025")


def day_of_style(text: str, style: str) -> date | None:
    """Return the day of the calendar that a text in a style says; None if it says none."""
    try:
        return _day(text, style)
    except ValueError:
        return None


def _day(text: str, style: str) -> date | None:
    found = _PARTS.fullmatch(text)
    if found is None or found[2] not in style:
        return None
    order = style.split(found[2])
    parts = dict(zip(order, found.group(1, 3, 4), strict=True))
    short = len(parts["year"]) == 2
    if len(parts["day"]) > 2 or len(parts["month"]) > 2 or not (short or len(parts["year"]) == 4):
        return None
    # What begins with two digits begins with a day or a month.
    if short and order[0] == "year":
        return None
    century = _CENTURY if short else 0
    return date(century + int(parts["year"]), int(parts["month"]), int(parts["day"]))
