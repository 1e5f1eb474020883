"""From the text of one cell to its value, or to a reason why it has none."""

from __future__ import annotations

import math
import re
from datetime import UTC, date, datetime, time
from typing import TYPE_CHECKING, Literal

from fishdown.records.codes import Wrong
from fishdown.records.notation import ISO_DATES, ISO_DAY, Notation, styles_of
from fishdown.records.problems import NoPlaceError

if TYPE_CHECKING:
    from collections.abc import Callable

Kind = Literal["text", "mark", "limited", "movement", "yes_no", "number", "count", "date", "time"]

MARKS = ("fin_clip", "pit_tag", "both")
# What a limit of the bycatch is on: all fish that were caught, or the dead ones among them.
LIMITED = ("all", "dead")
# How target fish come and go other than by the nets.
COME = ("stocked", "moved_in")
GO = ("moved_out", "angled", "seined", "found_dead", "winterkill")

_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)(e[+-]?\d+)?", re.ASCII | re.IGNORECASE)
# A time of day, or the first of two.
_CLOCK = re.compile(r"\d{1,2}[:h]\d\d\b", re.ASCII)
_THOUSANDS = re.compile(r"[+-]?\d{1,3}(,\d{3})+(\.\d+)?", re.ASCII)
_DECIMAL_COMMA = re.compile(r"[+-]?\d+,\d+", re.ASCII)
_SWAPPED = str.maketrans(".,", ",.")
_PLAIN = Notation()
_NOT_FINITE = re.compile(r"[+-]?(nan|inf|infinity)", re.IGNORECASE)
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


def parse(text: str, kind: Kind, notation: Notation = _PLAIN) -> object:
    """Turn the text of a filled cell into its value.

    Parameters
    ----------
    text : str
        The cell, trimmed and not empty.
    kind : str
        What the column holds.
    notation : Notation, optional
        How it is written. Of an hour that occurs twice, when clocks go back, the first is meant.

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
    return _NOTED[kind](text, notation) if kind in _NOTED else _PARSERS[kind](text)


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


def _number(text: str, notation: Notation) -> float:
    comma = notation.decimal == "comma"
    # What a point and a comma mean changes places; the rest reads a point.
    plain = text.translate(_SWAPPED) if comma else text
    if _NUMBER.fullmatch(plain):
        value = float(plain)
        if math.isfinite(value):
            return value
    if _NUMBER.fullmatch(plain) or _NOT_FINITE.fullmatch(plain):
        raise CellError(Wrong.NOT_FINITE)
    if _THOUSANDS.fullmatch(plain):
        whole, decimal = plain.replace(",", ""), plain.replace(",", ".", 1)
        if comma:
            whole, decimal = whole.translate(_SWAPPED), decimal.translate(_SWAPPED)
        code = Wrong.POINT_OF_THOUSANDS if comma else Wrong.COMMA_OF_THOUSANDS
        raise CellError(code, plain=whole, decimal=decimal)
    if _DECIMAL_COMMA.fullmatch(plain):
        if comma:
            raise CellError(Wrong.DECIMAL_POINT, decimal=text.replace(".", ","))
        raise CellError(Wrong.DECIMAL_COMMA, decimal=text.replace(",", "."))
    raise CellError(Wrong.TIME_FOR_NUMBER if _CLOCK.match(text) else Wrong.NOT_A_NUMBER)


def _count(text: str, notation: Notation) -> float:
    value = _number(text, notation)
    if value != math.floor(value):
        raise CellError(Wrong.NOT_WHOLE)
    return value


def _date(text: str, notation: Notation) -> date:
    try:
        day = date.fromisoformat(text) if ISO_DAY.fullmatch(text) else notation.day(text)
    except ValueError:
        raise CellError(Wrong.NO_SUCH_DAY) from None
    if day is None:
        raise _no_date(text, notation)
    refuse_year(day.year)
    return day


def _no_date(text: str, notation: Notation) -> CellError:
    if notation.dates != ISO_DATES:
        return CellError(Wrong.NOT_OF_DATE_STYLE, style=notation.dates, example=notation.example)
    if styles := styles_of([text]):
        return CellError(Wrong.OTHER_DATE_STYLE, styles=quoted(styles))
    return CellError(Wrong.NOT_A_DATE)


def quoted(styles: list[str]) -> str:
    """Return settings of the style of dates, as alternatives."""
    return " or ".join(f'dates = "{style}"' for style in styles)


def _time(text: str, notation: Notation) -> datetime:
    moment, zone = moment_written(text, notation), notation.zone
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


def moment_written(text: str, notation: Notation) -> datetime:
    """Return the time that a text says, with its offset if it has one.

    Raises
    ------
    CellError
        If it says none.
    """
    try:
        return datetime.fromisoformat(text)
    except ValueError:
        pass
    try:
        # The day in the crew's own style, a space, and the time of day.
        written, _, clock = text.partition(" ")
        day = notation.day(written)
        if day is not None:
            return datetime.combine(day, time.fromisoformat(clock.strip()))
    except ValueError:
        pass
    raise CellError(Wrong.NOT_A_TIME)


_PARSERS: dict[Kind, Callable[[str], object]] = {
    "text": _text,
    "mark": _one_of(MARKS, Wrong.UNKNOWN_MARK),
    "limited": _one_of(LIMITED, Wrong.NEITHER_ALL_NOR_DEAD),
    "movement": _one_of((*COME, *GO), Wrong.UNKNOWN_MOVEMENT),
    "yes_no": _yes_no,
}
_NOTED: dict[Kind, Callable[[str, Notation], object]] = {
    "number": _number,
    "count": _count,
    "date": _date,
    "time": _time,
}
