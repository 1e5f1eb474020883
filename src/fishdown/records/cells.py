"""From the text of one cell to its value, or to a reason why it has none."""

from __future__ import annotations

import math
import re
from datetime import UTC, date, datetime
from typing import TYPE_CHECKING, Literal

from fishdown.records.codes import Wrong
from fishdown.records.problems import NoPlaceError

if TYPE_CHECKING:
    from collections.abc import Callable
    from datetime import tzinfo

Kind = Literal["text", "mark", "limited", "movement", "yes_no", "number", "count", "date", "time"]

MARKS = ("fin_clip", "pit_tag", "both")
# What a limit of the bycatch is on: all fish that were caught, or the dead ones among them.
LIMITED = ("all", "dead")
# How target fish come and go other than by the nets.
COME = ("stocked", "moved_in")
GO = ("moved_out", "angled", "seined", "found_dead", "winterkill")

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


class CellError(NoPlaceError):
    """The text of a cell does not give a value of the kind its column holds."""


def parse(text: str, kind: Kind, zone: tzinfo | None = None) -> object:
    """Turn the text of a filled cell into its value.

    Parameters
    ----------
    text : str
        The cell, trimmed and not empty.
    kind : str
        What the column holds.
    zone : datetime.tzinfo, optional
        Of a clock that wrote a time without an offset. Of an hour that occurs twice, when clocks
        go back, the first is meant.

    Returns
    -------
    object
        str, bool, float, date (naive) or datetime (with its offset), by kind.

    Raises
    ------
    CellError
        If the text is not of that kind.
    """
    if text.startswith("="):
        raise CellError(Wrong.FORMULA)
    if text.upper() in _SPREADSHEET_ERRORS:
        raise CellError(Wrong.SPREADSHEET_ERROR)
    return _time(text, zone) if kind == "time" else _PARSERS[kind](text)


def refuse_year(year: int) -> None:
    """Refuse years in which nobody nets fish.

    Raises
    ------
    CellError
        If it lies outside 1950 to 2100.
    """
    if not FIRST_YEAR <= year <= LAST_YEAR:
        raise CellError(Wrong.OUTSIDE_YEARS, first=FIRST_YEAR, last=LAST_YEAR)


def _text(text: str) -> str:
    if len(text) > _MOST_LETTERS:
        raise CellError(Wrong.NAME_TOO_LONG, letters=len(text), most=_MOST_LETTERS)
    if any(not letter.isprintable() and not letter.isspace() for letter in text):
        raise CellError(Wrong.INVISIBLE_LETTER)
    return " ".join(text.split())


def _one_of(known: tuple[str, ...], code: Wrong) -> Callable[[str], str]:
    def parse_word(text: str) -> str:
        if text.lower() not in known:
            raise CellError(code)
        return text.lower()

    return parse_word


def _yes_no(text: str) -> bool:
    if text.lower() not in _YES:
        raise CellError(Wrong.NEITHER_YES_NOR_NO)
    return _YES[text.lower()]


def _number(text: str) -> float:
    if _NUMBER.fullmatch(text):
        value = float(text)
        if math.isfinite(value):
            return value
    if _NUMBER.fullmatch(text) or _NOT_FINITE.fullmatch(text):
        raise CellError(Wrong.NOT_FINITE)
    if _THOUSANDS.fullmatch(text):
        plain, decimal = text.replace(",", ""), text.replace(",", ".", 1)
        raise CellError(Wrong.COMMA_OF_THOUSANDS, plain=plain, decimal=decimal)
    if _DECIMAL_COMMA.fullmatch(text):
        raise CellError(Wrong.DECIMAL_COMMA, decimal=text.replace(",", "."))
    raise CellError(Wrong.NOT_A_NUMBER)


def _count(text: str) -> float:
    value = _number(text)
    if value != math.floor(value):
        raise CellError(Wrong.NOT_WHOLE)
    return value


def _date(text: str) -> date:
    if not _DATE.fullmatch(text):
        raise CellError(Wrong.NOT_A_DATE)
    try:
        day = date.fromisoformat(text)
    except ValueError:
        raise CellError(Wrong.NO_SUCH_DAY) from None
    refuse_year(day.year)
    return day


def _time(text: str, zone: tzinfo | None) -> datetime:
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        raise CellError(Wrong.NOT_A_TIME) from None
    refuse_year(moment.year)
    if moment.tzinfo is not None:
        return moment
    if zone is None:
        raise CellError(Wrong.NO_TIME_ZONE, time=moment.isoformat())
    local = moment.replace(tzinfo=zone)
    # Where clocks change, the offset of the two readings differs; going forward, no clock shows
    # the hour between them.
    if local.utcoffset() != local.replace(fold=1).utcoffset():
        shown = local.astimezone(UTC).astimezone(zone)
        if shown.replace(tzinfo=None) != moment:
            raise CellError(Wrong.HOUR_LEAPT_OVER)
    return local


_PARSERS: dict[Kind, Callable[[str], object]] = {
    "text": _text,
    "mark": _one_of(MARKS, Wrong.UNKNOWN_MARK),
    "limited": _one_of(LIMITED, Wrong.NEITHER_ALL_NOR_DEAD),
    "movement": _one_of((*COME, *GO), Wrong.UNKNOWN_MOVEMENT),
    "yes_no": _yes_no,
    "number": _number,
    "count": _count,
    "date": _date,
}
