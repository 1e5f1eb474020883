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


def likelihood_words(probability: float) -> str:
    """Return the calibrated words for a probability.

    Parameters
    ----------
    probability : float
        Between 0 and 1.

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


def amount(value: float) -> str:
    """Return a quantity with three significant digits and comma-set thousands, never in powers."""
    if value == 0.0 or not math.isfinite(value):
        return "0" if value == 0.0 else str(value)
    rounded = float(f"{value:.2e}")
    # 9.996 rounds to 10.0: the place of the last digit is that of the rounded number.
    digits = 2 - math.floor(math.log10(abs(rounded)))
    return f"{rounded:,.{max(digits, 0)}f}"


def few_digits(removal: float) -> str:
    """Write whole fish or kg with no more than three digits that are not zero."""
    return f"{float(f'{removal:.3g}'):,.0f}"


def amount_with_error(value: float, error: float) -> str:
    """Return fish or kg computed from draws with their Monte-Carlo standard error."""
    return with_error(amount(value), error)


def with_error(shown: str, error: float) -> str:
    """Add the Monte-Carlo standard error to fish or kg: in whole ones, rounded up."""
    return f"{shown} ± {few_digits(max(1, math.ceil(error)))}"
