"""What every classical estimator returns, and how its numbers are printed."""

from __future__ import annotations

from dataclasses import dataclass
from math import isinf


@dataclass(frozen=True, slots=True)
class Estimate:
    """The estimate of one classical estimator.

    Attributes
    ----------
    method : str
        Name of the formula in the words of the trade.
    abundance : float
        Estimated number of fish before the first sample or pull.
    standard_error : float
        Its standard error (fish).
    low, high : float
        Equal-tailed confidence limits (fish); `high` is infinite when the data set no upper limit.
    level : float
        Confidence level of the limits, for example 0.9.
    interval : str
        How the limits were made.
    catchability : float or None
        Probability that one unit of effort (a pass, a pull) takes a given fish; None where the
        formula does not estimate it.
    catchability_se : float or None
        Its standard error.
    source : str
        Where the formulas come from.
    note : str
        What a reader should know before using the number; empty when there is nothing to say.
    """

    method: str
    abundance: float
    standard_error: float
    low: float
    high: float
    level: float
    interval: str
    catchability: float | None = None
    catchability_se: float | None = None
    source: str = ""
    note: str = ""

    def __str__(self) -> str:
        return f"{fish(self.abundance)} [{self.level:.0%} {fish(self.low)}–{fish(self.high)}]"


def fish(number: float) -> str:
    """Return a number of fish as text: whole, with separators, or "no upper limit"."""
    return "no upper limit" if isinf(number) else f"{number:,.0f}"


def joined(*notes: str) -> str:
    """Join the notes that say something, parted by semicolons."""
    return "; ".join(note for note in notes if note)
