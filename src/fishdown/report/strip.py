"""The small picture on a verdict's card: before, after and the threshold on one line."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from fishdown.words import amount

if TYPE_CHECKING:
    from fishdown.display.table import Source

WIDTH = 320.0
MARGIN = 10.0


@dataclass(frozen=True)
class Bar:
    """An interval on the strip: ends and median in the strip's units."""

    when: str
    low: float
    median: float
    high: float


@dataclass(frozen=True)
class Strip:
    """Where things lie on the strip, which is `WIDTH` wide and starts at 0 kg/ha.

    Attributes
    ----------
    bars : tuple of Bar
        Before and after netting.
    threshold : float
    zero, end : float
        Ends of the axis.
    highest : str
        kg/ha at the right end.
    words : str
        What the strip shows.
    """

    bars: tuple[Bar, ...]
    threshold: float
    zero: float
    end: float
    highest: str
    words: str


def strip(source: Source, before: int, after: int, right: float) -> Strip:
    """Lay out one lake.

    Parameters
    ----------
    source : Source
        The verdicts.
    before, after : int
        Rows of the lake's season.
    right : float
        kg/ha at the right end, the same for all lakes of the page.
    """

    def at(kg_per_ha: float) -> float:
        return round(MARGIN + (WIDTH - 2.0 * MARGIN) * kg_per_ha / right, 1)

    bars = []
    parts = []
    for when, row in (("before", before), ("after", after)):
        low, median, high = (
            float(source.frame[f"biomass_{point}_kg_per_ha"].iloc[row])
            for point in ("low", "median", "high")
        )
        bars.append(Bar(when, at(low), at(median), at(high)))
        parts.append(f"{when} netting {amount(median)}, {amount(low)} to {amount(high)}")
    threshold = float(source.frame["threshold_kg_per_ha"].iloc[after])
    return Strip(
        bars=tuple(bars),
        threshold=at(threshold),
        zero=MARGIN,
        end=WIDTH - MARGIN,
        highest=amount(right),
        words=f"kg/ha: {'; '.join(parts)}; threshold {amount(threshold)}.",
    )
