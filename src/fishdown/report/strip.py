"""The small picture on a verdict's card: before, after and the threshold on one line."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from fishdown.units import label, shown
from fishdown.words import amount

if TYPE_CHECKING:
    from fishdown.display.table import Source

WIDTH = 320.0
MARGIN = 10.0
# Of the words, at most, and what keeps them off the bar and the line of the threshold.
LETTER, GAP = 6.5, 6.0


@dataclass(frozen=True)
class Bar:
    """An interval on the strip: ends and median in the strip's units.

    Attributes
    ----------
    when : {"before", "after"}
    low, median, high : float
    x, anchor, rise : float, str, float
        Where ``when`` is written: SVG's x and text-anchor, and how far above the bar's middle.
    """

    when: str
    low: float
    median: float
    high: float
    x: float
    anchor: str
    rise: float


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
    before, after : int
        Rows of the lake's season.
    right : float
        kg/ha at the right end, the same for all lakes of the page.
    """

    def at(kg_per_ha: float) -> float:
        return round(MARGIN + (WIDTH - 2.0 * MARGIN) * kg_per_ha / right, 1)

    limit = float(source.frame["threshold_kg_per_ha"].iloc[after])
    bars, parts = [], []
    for when, row in (("before", before), ("after", after)):
        low, median, high = (
            float(source.frame[f"biomass_{point}_kg_per_ha"].iloc[row])
            for point in ("low", "median", "high")
        )
        ends = at(low), at(high)
        bars.append(Bar(when, ends[0], at(median), ends[1], *place_of_word(when, *ends, at(limit))))
        said = [amount(shown(end, "kg/ha")) for end in (median, low, high)]
        parts.append(f"{when} netting {said[0]}, {said[1]} to {said[2]}")
    return Strip(
        bars=tuple(bars),
        threshold=at(limit),
        zero=MARGIN,
        end=WIDTH - MARGIN,
        highest=amount(shown(right, "kg/ha")),
        words=f"{label('kg/ha')}: {'; '.join(parts)}; threshold {amount(shown(limit, 'kg/ha'))}.",
    )


def place_of_word(when: str, low: float, high: float, threshold: float) -> tuple[float, str, float]:
    """Return where a bar's word stands clear of the threshold: x, text-anchor, rise above the bar.

    Beside the bar, beyond the threshold if that is in the way; above the bar where neither side has
    room for it.
    """
    width = LETTER * len(when)

    def clear(left: float) -> bool:
        crossed = left - GAP < threshold < left + width + GAP
        return left >= 0.0 and left + width <= WIDTH and not crossed

    beyond = (max(high, threshold), min(low, threshold))
    for right, left in ((high, low), beyond):
        if clear(right + GAP):
            return right + GAP, "start", -4.0
        if clear(left - GAP - width):
            return left - GAP, "end", -4.0
    return (low, "start", 7.0) if clear(low) else (high, "end", 7.0)
