"""The pulls to come: biomass density left after each, and the probability of being below."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from matplotlib.figure import Figure

from fishdown.figures.canvas import (
    PANEL_WIDTH,
    counts_axis,
    in_palette,
    quantiles,
    room_above,
    said,
    short,
    withheld_note,
)
from fishdown.figures.palette import LIGHT, Palette
from fishdown.intervals import POINTS
from fishdown.statements.words import amount, percent_with_error

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from fishdown.decisions.ahead import Ahead
    from fishdown.decisions.lake_ahead import LakeAhead


TITLE = "Pulls to come"
HEIGHT = 3.9


@in_palette
def draw(ahead: Ahead, *, palette: Palette = LIGHT) -> Figure:
    """Draw a column a lake: density left (median and 90 % interval), probability below it.

    Without weights, fish/ha; the lower panel then says why it is empty.
    """
    count = len(ahead.lakes)
    columns = min(count, 3)
    rows = -(-count // columns)
    figure = Figure(figsize=(columns * PANEL_WIDTH, rows * HEIGHT), layout="constrained")
    axes = figure.subplots(
        2 * rows, columns, squeeze=False, height_ratios=[1.5, 1.0] * rows, sharex=False
    )
    for place in range(rows * columns):
        upper, lower = (axes[2 * (place // columns) + part, place % columns] for part in (0, 1))
        if place >= count:
            upper.set_axis_off()
            lower.set_axis_off()
            continue
        lake = ahead.lakes[place]
        upper.set_title(short(f"{lake.lake} {lake.season}", 34))
        _left(lake, upper, palette)
        _below(lake, lower, palette)
    return figure


def _left(lake: LakeAhead, axes: Axes, palette: Palette) -> None:
    density, unit = _density(lake)
    axes.set_ylabel(f"left, {unit}")
    axes.set_xlim(0.0, lake.pulls)
    axes.tick_params(labelbottom=False)
    counts_axis(axes.xaxis, whole=True)
    if not lake.shown:
        withheld_note(axes, lake.failure, palette)
        axes.set_yticks([])
        return
    low, median, high = quantiles(density.reshape(-1, lake.pulls + 1), POINTS)
    pulls = np.arange(lake.pulls + 1)
    axes.fill_between(pulls, low, high, color=palette.estimate, alpha=0.2, lw=0)
    axes.plot(pulls, median, color=palette.estimate, lw=1.8, label="median and 90 % interval")
    if lake.biomass is not None:
        axes.axhline(
            lake.threshold,
            color=palette.threshold,
            ls=(0, (5, 3)),
            lw=1.3,
            label=f"threshold {amount(lake.threshold)} kg/ha",
        )
    counts_axis(axes.yaxis)
    room_above(axes, 0.3)
    axes.legend(loc="upper right", ncols=2, columnspacing=1.0, borderaxespad=0.1)


def _below(lake: LakeAhead, axes: Axes, palette: Palette) -> None:
    axes.set_xlabel("pulls to come")
    axes.set_ylabel("probability\nbelow, %")
    axes.set_xlim(0.0, lake.pulls)
    # So that a line at either end is seen whole.
    axes.set_ylim(-3.0, 103.0)
    counts_axis(axes.xaxis, whole=True)
    if not lake.shown or lake.below is None:
        axes.set_yticks([])
        if lake.shown:
            withheld_note(axes, "no fish was weighed, so nothing can be said of kg/ha", palette)
        return
    pulls = np.arange(lake.pulls + 1)
    probability, error = 100.0 * lake.below
    axes.fill_between(
        pulls,
        np.maximum(probability - 2.0 * error, 0.0),
        np.minimum(probability + 2.0 * error, 100.0),
        color=palette.estimate,
        alpha=0.25,
        lw=0,
    )
    axes.plot(pulls, probability, color=palette.estimate, lw=1.8)
    axes.set_yticks([0, 50, 80, 90, 100], ["0", "50", "80", "", "100"])
    if lake.losses is not None:
        axes.axvline(lake.losses.best, color=palette.other, lw=1.2, ls=(0, (1, 1.5)))
        early = lake.losses.best <= lake.pulls / 2
        axes.annotate(
            "least expected loss",
            (lake.losses.best, 8.0),
            xytext=(4 if early else -4, 0),
            textcoords="offset points",
            ha="left" if early else "right",
            fontsize=7.5,
            color=palette.other,
        )


def _density(lake: LakeAhead) -> tuple[np.ndarray, str]:
    return (lake.fish / lake.area, "fish/ha") if lake.biomass is None else (lake.biomass, "kg/ha")


def describe(ahead: Ahead) -> str:
    """Say in words what `draw` shows."""
    sentences = []
    for lake in ahead.lakes:
        place = f"{lake.lake} {lake.season}"
        if not lake.shown:
            sentences.append(f"{place}: withheld ({lake.failure}).")
            continue
        density, unit = _density(lake)
        now, then = (quantiles(density[:, :, pull].ravel(), POINTS) for pull in (0, -1))
        words = (
            f"{place}: from {said(now, unit)} now to {said(then, unit)} after {lake.pulls} pulls"
        )
        if lake.below is not None:
            words += "; probability below the threshold from " + " to ".join(
                percent_with_error(*lake.below[:, pull]) for pull in (0, -1)
            )
        sentences.append(f"{words}.")
    return " ".join(sentences)
