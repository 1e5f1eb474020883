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
    return _PARSERS[kind](text)


def _text(text: str) -> str:
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
        return date.fromisoformat(text)
    except ValueError:
        raise CellError("no such day in the calendar") from None


def _time(text: str) -> datetime:
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        raise CellError("not a date and time") from None
    if moment.tzinfo is None:
        raise CellError(
            "time without a time zone",
            f"add the zone: {moment.isoformat()}Z for universal time, "
            f"{moment.isoformat()}-06:00 for six hours behind it",
        )
    try:
        return moment.astimezone(UTC)
    except OverflowError:
        raise CellError("not a date and time") from None


_PARSERS: dict[Kind, Callable[[str], object]] = {
    "text": _text,
    "mark": _mark,
    "yes_no": _yes_no,
    "number": _number,
    "count": _count,
    "date": _date,
    "time": _time,
}
