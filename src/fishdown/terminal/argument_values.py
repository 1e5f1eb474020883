"""Values of the command line: how each kind is read, and what is said of one that cannot be."""

from __future__ import annotations

import argparse
from datetime import date
from typing import TYPE_CHECKING

from fishdown.records.cells import CellError, parse

if TYPE_CHECKING:
    from collections.abc import Callable


def a_number(text: str) -> float:
    """Read a number."""
    try:
        return float(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text!r}: write a number") from None


def a_month(text: str) -> int:
    """Read a month, 1 to 12."""
    if not text.isdecimal() or not 1 <= int(text) <= 12:
        raise argparse.ArgumentTypeError(f"{text!r}: write a month as a number, 1 to 12")
    return int(text)


def some_minutes(text: str) -> float:
    """Read minutes, less than a day."""
    number = a_number(text)
    if not 0.0 < number < 24.0 * 60.0:
        raise argparse.ArgumentTypeError(f"{text!r}: write minutes, above 0 and less than a day")
    return number


def a_share(text: str) -> float:
    """Read a probability between 0 and 1."""
    share = a_number(text)
    if not 0.0 < share < 1.0:
        raise argparse.ArgumentTypeError(f"{text!r}: write a probability between 0 and 1")
    return share


def a_day(text: str) -> date:
    """Read a day in ISO form."""
    try:
        day = parse(text, "date")
    except CellError as error:
        wanted = "write the day as 2025-06-10"
        raise argparse.ArgumentTypeError(f"{text!r}: {error.wrong}; {wanted}") from None
    assert isinstance(day, date)
    return day


def at_least(least: int) -> Callable[[str], int]:
    """Return a reader of whole numbers that are not too small."""

    def whole_number(text: str) -> int:
        if not text.isdecimal() or int(text) < least:
            raise argparse.ArgumentTypeError(f"{text!r}: write a whole number, {least} or more")
        return int(text)

    return whole_number
