"""Tagged fish at the net by time of day: the expected number, and every night beneath it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from matplotlib.colors import LinearSegmentedColormap
from matplotlib.figure import Figure
from matplotlib.ticker import FuncFormatter, MultipleLocator

from fishdown.decisions.lift_presence import SLOTS, clock
from fishdown.figures.canvas import (
    columns,
    counts_axis,
    in_palette,
    note,
    room_above,
    short,
)
from fishdown.palette import LIGHT, Palette
from fishdown.words import amount

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from fishdown.decisions.lift_time import LakeLift, LiftTimes

TITLE = "Tagged fish at the net by time of day"
_MOST_DATES = 8


def missing(found: LiftTimes) -> str:
    """Return why there is nothing to draw."""
    return "" if found.told else "the time cannot be told in any lake"


@in_palette
def draw(found: LiftTimes, *, palette: Palette = LIGHT) -> Figure:
    """Draw a column a lake: expected number (90 % interval), and below it each night's counts."""
    figure, panels = columns(len(found.lakes), [1.0, 1.3], 5.2, sharex=True)
    for lake, (above, below) in zip(found.lakes, panels, strict=True):
        above.set_title(short(lake.seen.lake, 34))
        _expected(lake, above, palette)
        _nights(lake, below, figure, palette)
        below.set_xlabel("time of day")
    return figure


def _expected(lake: LakeLift, axes: Axes, palette: Palette) -> None:
    axes.set_ylabel("tagged fish at the net")
    axes.set_xlim(0, SLOTS)
    if lake.curve is None:
        axes.set_yticks([])
        note(axes, f"Cannot be told: {lake.why_not}", palette)
        return
    # The nets have one curve at levels of their own; the level of their average is drawn.
    drawn = lake.curve.drawn.mean(axis=1)
    low, median, high = np.quantile(drawn, [0.05, 0.5, 0.95], axis=0)
    slots = np.arange(SLOTS)
    axes.fill_between(slots, low, high, color=palette.estimate, alpha=0.2, lw=0)
    label = "expected, 90 % interval"
    if len(lake.seen.nets) > 1:
        label = f"expected, average of {len(lake.seen.nets)} nets, 90 % interval"
    axes.plot(slots, median, color=palette.estimate, lw=1.8, label=label)
    axes.axvline(
        lake.best, color=palette.other, lw=1.3, ls=(0, (1, 1)), label=f"best, {clock(lake.best)}"
    )
    counts_axis(axes.yaxis)
    room_above(axes, 0.35)
    axes.legend(loc="upper right", borderaxespad=0.1)


def _nights(lake: LakeLift, axes: Axes, figure: Figure, palette: Palette) -> None:
    seen = lake.seen
    counts = np.where(seen.listening, seen.counts, np.nan)
    nights, place = np.unique(seen.night, return_inverse=True)
    total = np.zeros((len(nights), SLOTS))
    known = np.zeros((len(nights), SLOTS))
    np.add.at(total, place, np.nan_to_num(counts))
    np.add.at(known, place, ~np.isnan(counts))
    shades = LinearSegmentedColormap.from_list("counts", [palette.paper, palette.ink])
    image = axes.imshow(
        np.where(known > 0, total, np.nan),
        aspect="auto",
        interpolation="nearest",
        cmap=shades,
        vmin=0.0,
        extent=(-0.5, SLOTS - 0.5, len(nights) - 0.5, -0.5),
    )
    axes.grid(visible=False)
    step = max(1, -(-len(nights) // _MOST_DATES))
    shown = np.arange(0, len(nights), step)
    axes.set_yticks(shown, [str(nights[row].astype("datetime64[D]"))[5:] for row in shown])
    axes.set_ylabel("night (month-day of its noon before)")
    axes.xaxis.set_major_locator(MultipleLocator(8))
    axes.xaxis.set_major_formatter(FuncFormatter(lambda slot, _: clock(int(slot) % SLOTS)))
    figure.colorbar(image, ax=axes, location="bottom", shrink=0.7, label="tagged fish heard")


def describe(found: LiftTimes) -> str:
    """Describe what `draw` shows."""
    sentences = []
    for lake in found.lakes:
        if lake.curve is None:
            sentences.append(f"{lake.seen.lake}: cannot be told ({lake.why_not}).")
            continue
        drawn = lake.curve.drawn.mean(axis=1)[:, lake.best]
        low, median, high = (
            amount(float(point)) for point in np.quantile(drawn, [0.05, 0.5, 0.95])
        )
        sentences.append(
            f"{lake.seen.lake}: most tagged fish at the net at {clock(lake.best)}, {median} (90 % "
            f"interval {low} to {high}), over {lake.seen.nights} nights."
        )
    return " ".join(sentences)
