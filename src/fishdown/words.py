"""Probabilities and numbers as people read them.

The words for probabilities are the calibrated scale of the guidance note for lead authors of the
IPCC fifth assessment report [1]_ (limits from memory); the number always stands beside the word.

References
----------
.. [1] Mastrandrea, Field, Stocker, et al. 2010. Guidance note for lead authors of the IPCC fifth
   assessment report on consistent treatment of uncertainties.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

# lower limit of the probability → words
SCALE = (
    (0.99, "virtually certain"),
    (0.90, "very likely"),
    (0.66, "likely"),
    (0.33, "about as likely as not"),
    (0.10, "unlikely"),
    (0.01, "very unlikely"),
    (0.0, "exceptionally unlikely"),
)
_MOST_ROWS = 5
_FRACTIONS = {
    "a tenth": 0.1,
    "a fifth": 0.2,
    "a third": 1 / 3,
    "two fifths": 0.4,
    "half": 0.5,
    "three fifths": 0.6,
    "two thirds": 2 / 3,
    "three quarters": 0.75,
    "nine tenths": 0.9,
}


def likelihood_words(probability: float) -> str:
    """Return the calibrated words for a probability.

    Raises
    ------
    ValueError
        If it does not lie between 0 and 1.
    """
    if not 0.0 <= probability <= 1.0:
        raise ValueError(f"probability {probability} does not lie between 0 and 1")
    # The upper half of the scale holds its limit, the lower half too: unlikely is 33 % or less.
    for limit, words in SCALE:
        if probability > limit or (probability == limit and limit > 0.33):
            return words
    return SCALE[-1][1]


def percent(probability: float) -> str:
    """Return a Monte-Carlo probability in whole percent, never 0 % or 100 %."""
    if probability > 0.99:
        return "more than 99 %"
    if probability < 0.01:
        return "less than 1 %"
    # Never across a limit of the scale: 89.6 % is likely, and "likely (90 %)" would read as wrong.
    nearest = (
        round(100.0 * probability),
        math.floor(100.0 * probability),
        math.ceil(100.0 * probability),
    )
    words = likelihood_words(probability)
    whole = next(number for number in nearest if likelihood_words(number / 100.0) == words)
    return f"{whole} %"


def percent_with_error(probability: float, error: float) -> str:
    """Return a Monte-Carlo probability with its standard error, in whole percent."""
    text = percent(probability)
    if not text[0].isdigit():
        return text
    return f"{text[:-2]} ± {max(1, math.ceil(100.0 * error))} %"


def part_words(part: float) -> str:
    """Return a part of one in words, by the nearest everyday fraction."""
    if part < 0.05:
        return "hardly any"
    if part > 0.95:
        return "nearly all"
    return f"about {min(_FRACTIONS, key=lambda word: abs(_FRACTIONS[word] - part))}"


def amount(value: float) -> str:
    """Return a quantity with three significant digits and comma-set thousands, never in powers."""
    if value == 0.0 or not math.isfinite(value):
        return "0" if value == 0.0 else str(value)
    rounded = float(f"{value:.2e}")
    # 9.996 rounds to 10.0: the place of the last digit is that of the rounded number.
    digits = 2 - math.floor(math.log10(abs(rounded)))
    return f"{rounded:,.{max(digits, 0)}f}"


def with_error(value: float, error: float, *, whole: bool = False) -> str:
    """Return a number with its standard error, "1,243 ± 24"; see `value_and_error`."""
    shown, its_error = value_and_error(value, error, whole=whole)
    return f"{shown} ± {its_error}" if its_error else shown


def value_and_error(value: float, error: float, *, whole: bool = False) -> tuple[str, str]:
    """Return a number and its standard error as text, both to the same decimal place.

    The error has one significant digit, or two if the first is 1 or 2, and is rounded up, never
    down; the number ends where its error does, after four digits at the latest. (Common practice,
    no source.)

    Parameters
    ----------
    value, error : float
        In one unit.
    whole : bool
        Of things that come whole, such as fish: no digits after the decimal point, and an error of
        1 at least.

    Returns
    -------
    value, error : str
        No error where it is nothing, or unknown.
    """
    if whole:
        error = max(error, 1.0)
    if not (math.isfinite(value) and math.isfinite(error) and error > 0.0):
        return amount(value), ""
    place = math.floor(math.log10(error))
    if error < 3.0 * 10.0**place:
        place -= 1
    if value:
        place = max(place, math.floor(math.log10(abs(value))) - 3)
    if whole:
        place = max(place, 0)
    step = 10.0**place
    # A little less, or an error of exactly 24 would be 25 to rounding.
    shown = (round(value / step) * step, max(1, math.ceil(error / step - 1e-9)) * step)
    text, its_error = (f"{number:,.{max(-place, 0)}f}" for number in shown)
    return text, its_error


def counted(number: float, one: str, many: str | None = None) -> str:
    """Return a count with its noun, for one or for several (that for one with an s if left out)."""
    noun = one if round(number) == 1 else (many or f"{one}s")
    return f"{number:,.0f} {noun}"


def listed_names(names: Iterable[object]) -> str:
    """Join names for a sentence: ``A``, ``A and B``, ``A, B and C``."""
    *others, last = map(str, names)
    return f"{', '.join(others)} and {last}" if others else last


def listed_rows(rows: Sequence[int]) -> str:
    """Return row numbers for a sentence: ``row 7``, ``rows 7, 9, 12, 13, 15 and 4 more``."""
    if len(rows) == 1:
        return f"row {rows[0]}"
    shown, hidden = rows[:_MOST_ROWS], len(rows) - _MOST_ROWS
    if hidden > 0:
        return f"rows {', '.join(map(str, shown))} and {hidden:,} more"
    return f"rows {listed_names(shown)}"


def spans_of_rows(rows: Sequence[int]) -> str:
    """Return ascending row numbers with their count: ``97 rows (2–98)``, ``3 rows (7, 9, 10)``."""
    spans: list[list[int]] = []
    for row in rows:
        if spans and row == spans[-1][1] + 1:
            spans[-1][1] = row
        else:
            spans.append([row, row])
    shown = [f"{first}–{last}" if last > first else f"{first}" for first, last in spans]
    if len(shown) > _MOST_ROWS:
        shown = [*shown[:_MOST_ROWS], "…"]
    return f"{counted(len(rows), 'row')} ({', '.join(shown)})"
