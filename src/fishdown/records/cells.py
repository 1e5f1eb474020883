"""From the text of one cell to its value, or to a reason why it has none."""

from __future__ import annotations

import math
import re
from datetime import UTC, date, datetime
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from collections.abc import Callable

Kind = Literal["text", "mark", "yes_no", "number", "count", "date", "time"]

MARKS = ("fin_clip", "pit_tag", "both")

_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)(e[+-]?\d+)?", re.ASCII | re.IGNORECASE)
_THOUSANDS = re.compile(r"[+-]?\d{1,3}(,\d{3})+(\.\d+)?", re.ASCII)
_DECIMAL_COMMA = re.compile(r"[+-]?\d+,\d+", re.ASCII)
_NOT_FINITE = re.compile(r"[+-]?(nan|inf|infinity)", re.IGNORECASE)
_DATE = re.compile(r"\d{4}-\d{2}-\d{2}", re.ASCII)
_YES = {"yes": True, "true": True, "no": False, "false": False}

# Years of field work. No antenna, net or clip of a campaign is older than the first. The last is
# beyond the plans of anybody now at work, and far before the year 2262, where calendars that count
# nanoseconds end. Both are fixed, so that records read today can be read whatever the clock says.
FIRST_YEAR, LAST_YEAR = 1950, 2100
# More letters than a name of a lake, net, species or tag has.
_MOST_LETTERS = 200
# What spreadsheets write into a cell whose formula has no value, in the workbook and as CSV.
_SPREADSHEET_ERRORS = {
    "#BLOCKED!", "#BUSY!", "#CALC!", "#CONNECT!", "#DIV/0!", "#FIELD!", "#GETTING_DATA", "#N/A",
    "#NAME?", "#NULL!", "#NUM!", "#REF!", "#SPILL!", "#UNKNOWN!", "#VALUE!",
}  # fmt: skip


class CellError(ValueError):
    """The text of a cell does not give a value of the kind its column holds.

    Parameters
    ----------
    wrong : str
        What is wrong with the text.
    mend : str, optional
        How to mend this very text; None leaves it to the column's own advice.
    """

    def __init__(self, wrong: str, mend: str | None = None) -> None:
        super().__init__(wrong)
        self.wrong = wrong
        self.mend = mend


def parse(text: str, kind: Kind) -> object:
    """Turn the text of a filled cell into its value.

    Parameters
    ----------
    text : str
        The cell, trimmed and not empty.
    kind : str
        What the column holds.

    Returns
    -------
    object
        str, bool, float, date (naive) or datetime (UTC), by kind.

    Raises
    ------
    CellError
        If the text is not of that kind.
    """
    if text.startswith("="):
        raise CellError(
            "a formula without its value",
            "write the value, or open the file in a spreadsheet program and save it again",
        )
    if text.upper() in _SPREADSHEET_ERRORS:
        raise CellError("an error of the spreadsheet", "mend its formula, or write the value")
    return _PARSERS[kind](text)


def refuse_year(year: int) -> None:
    """Refuse years in which nobody nets fish.

    Parameters
    ----------
    year : int
        Calendar year.

    Raises
    ------
    CellError
        If it lies outside 1950 to 2100.
    """
    if not FIRST_YEAR <= year <= LAST_YEAR:
        raise CellError(f"not in the years {FIRST_YEAR} to {LAST_YEAR}")


def _text(text: str) -> str:
    if len(text) > _MOST_LETTERS:
        raise CellError(f"{len(text):,} letters, more than {_MOST_LETTERS}", "write a shorter name")
    if any(not letter.isprintable() and not letter.isspace() for letter in text):
        raise CellError("an invisible character", "type the name anew, with plain letters")
    return " ".join(text.split())


def _mark(text: str) -> str:
    if text.lower() not in MARKS:
        raise CellError("unknown kind of mark", f"write {', '.join(MARKS[:-1])} or {MARKS[-1]}")
    return text.lower()


def _yes_no(text: str) -> bool:
    if text.lower() not in _YES:
        raise CellError("neither yes nor no", "write yes or no")
    return _YES[text.lower()]


def _number(text: str) -> float:
    if _NUMBER.fullmatch(text):
        value = float(text)
        if math.isfinite(value):
            return value
    if _NUMBER.fullmatch(text) or _NOT_FINITE.fullmatch(text):
        raise CellError("not a finite number")
    if _THOUSANDS.fullmatch(text):
        plain = text.replace(",", "")
        raise CellError(
            "not a number because of the comma",
            f"write {plain}, or {text.replace(',', '.', 1)} if the comma marks the decimals",
        )
    if _DECIMAL_COMMA.fullmatch(text):
        raise CellError(
            "not a number because of the comma",
            f"write the decimals after a point: {text.replace(',', '.')}",
        )
    raise CellError("not a number")


def _count(text: str) -> float:
    value = _number(text)
    if value != math.floor(value):
        raise CellError("not a whole number")
    return value


def _date(text: str) -> date:
    if not _DATE.fullmatch(text):
        raise CellError("not a date of the form year-month-day")
    try:
        day = date.fromisoformat(text)
    except ValueError:
        raise CellError("no such day in the calendar") from None
    refuse_year(day.year)
    return day


def _time(text: str) -> datetime:
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        raise CellError("not a date and time") from None
    refuse_year(moment.year)
    if moment.tzinfo is None:
        raise CellError(
            "time without a time zone",
            f"add the zone: {moment.isoformat()}Z for universal time, "
            f"{moment.isoformat()}-06:00 for six hours behind it",
        )
    return moment.astimezone(UTC)


_PARSERS: dict[Kind, Callable[[str], object]] = {
    "text": _text,
    "mark": _mark,
    "yes_no": _yes_no,
    "number": _number,
    "count": _count,
    "date": _date,
    "time": _time,
}
