"""Pulls to come: biomass density left after each, probability below the threshold, loss."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from matplotlib.figure import Figure

from fishdown.decisions.ahead_tables import currency_of
from fishdown.figures.canvas import (
    columns,
    counts_axis,
    in_palette,
    room_above,
    said,
    short,
    threshold_line,
    withheld_note,
)
from fishdown.labels import season_label
from fishdown.palette import LIGHT, Palette
from fishdown.records.tables import rows_of
from fishdown.statements.in_units import shown_values
from fishdown.units import label
from fishdown.words import counted, percent_with_error, with_error

if TYPE_CHECKING:
    from collections.abc import Iterator

    import pandas as pd
    from matplotlib.axes import Axes


TITLE = "Pulls to come"
HEIGHT = 3.9


def missing(frame: pd.DataFrame) -> str:
    """Return why there is nothing to draw."""
    return "" if frame["fish_left_median"].notna().any() else "every lake is withheld"


@in_palette
def draw(frame: pd.DataFrame, *, palette: Palette = LIGHT) -> Figure:
    """Draw a column a lake of `Ahead.frame`: density left (90 % interval), probability below it.

    Where costs were given, also the expected loss of ending after each pull. Without weights,
    fish; the panel of the probability then says why it is empty.
    """
    lakes = list(_by_lake(shown_values(frame)))
    parts = [(_left, 1.5), (_below, 1.0)]
    if frame["expected_loss"].notna().any():
        parts.append((_loss, 1.0))
    heights = [height for _, height in parts]
    figure, found = columns(len(lakes), heights, HEIGHT * sum(heights) / 2.5)
    for (name, lake), panels in zip(lakes, found, strict=True):
        panels[0].set_title(short(name, 34))
        for panel, (part, _) in zip(panels, parts, strict=True):
            panel.set_xlim(0.0, lake["pull"].max())
            counts_axis(panel.xaxis, whole=True)
            panel.tick_params(labelbottom=panel is panels[-1])
            part(lake, panel, palette)
        panels[-1].set_xlabel("pulls to come")
    return figure


def _by_lake(frame: pd.DataFrame) -> Iterator[tuple[str, pd.DataFrame]]:
    for (lake, season), rows in frame.groupby(["lake", "season"], sort=False):
        yield season_label(lake, season), rows


def _weighed(lake: pd.DataFrame) -> bool:
    return bool(lake["biomass_median_kg_per_ha"].notna().all())


def _points(lake: pd.DataFrame) -> tuple[pd.DataFrame, str]:
    """Return low, median and high of what is left, and its unit."""
    name, unit = ("biomass_{}_kg_per_ha", "kg/ha") if _weighed(lake) else ("fish_left_{}", "fish")
    return lake[[name.format(point) for point in ("low", "median", "high")]], unit


def _left(lake: pd.DataFrame, axes: Axes, palette: Palette) -> None:
    if missing(lake):
        axes.set_ylabel("remaining")
        withheld_note(axes, str(lake["gate"].iloc[0]), palette)
        axes.set_yticks([])
        return
    points, unit = _points(lake)
    axes.set_ylabel(label(f"remaining, {unit}"))
    low, median, high = points.to_numpy(dtype=float).T
    axes.fill_between(lake["pull"], low, high, color=palette.estimate, alpha=0.2, lw=0)
    axes.plot(lake["pull"], median, color=palette.estimate, lw=1.8, label="median, 90 % interval")
    if unit == "kg/ha":
        threshold_line(axes, float(lake["threshold_kg_per_ha"].iloc[0]), palette)
    counts_axis(axes.yaxis)
    room_above(axes, 0.3)
    axes.legend(loc="upper right", ncols=2, columnspacing=1.0, borderaxespad=0.1)


def _below(lake: pd.DataFrame, axes: Axes, palette: Palette) -> None:
    axes.set_ylabel("probability\nbelow, %")
    # So that a line at either end is seen whole.
    axes.set_ylim(-3.0, 103.0)
    if missing(lake) or not _weighed(lake):
        axes.set_yticks([])
        if not missing(lake):
            withheld_note(
                axes,
                label("no fish was weighed, so biomass density (kg/ha) cannot be estimated"),
                palette,
            )
        return
    probability, error = 100.0 * lake[["probability_below", "mc_error"]].to_numpy(dtype=float).T
    axes.fill_between(
        lake["pull"],
        np.maximum(probability - 2.0 * error, 0.0),
        np.minimum(probability + 2.0 * error, 100.0),
        color=palette.estimate,
        alpha=0.25,
        lw=0,
    )
    axes.plot(lake["pull"], probability, color=palette.estimate, lw=1.8)
    axes.set_yticks([0, 50, 80, 90, 100], ["0", "50", "80", "", "100"])


def _loss(lake: pd.DataFrame, axes: Axes, palette: Palette) -> None:
    """Draw the whole curve, and where it is least."""
    axes.set_ylabel(", ".join(["expected loss if\nnetting ends here", *currency_of(lake)]))
    if lake["expected_loss"].isna().any():
        axes.set_yticks([])
        return
    loss, error = lake[["expected_loss", "loss_mc_error"]].to_numpy(dtype=float).T
    axes.fill_between(
        lake["pull"], loss - 2.0 * error, loss + 2.0 * error, color=palette.other, alpha=0.25, lw=0
    )
    axes.plot(lake["pull"], loss, color=palette.other, lw=1.8)
    counts_axis(axes.yaxis)
    best = int(loss.argmin())
    label = f"least, after {counted(best, 'pull')}" if best else "least, ending now"
    axes.plot(best, loss[best], "o", ms=5, color=palette.other, label=label, clip_on=False)
    # A loss below zero is a gain, so that the axis need not start there.
    low, high = axes.get_ylim()
    axes.set_ylim(low, high + 0.3 * (high - low))
    axes.legend(loc="upper right", borderaxespad=0.1)


def describe(frame: pd.DataFrame) -> str:
    """Describe what `draw` shows."""
    sentences = []
    for place, lake in _by_lake(shown_values(frame)):
        if missing(lake):
            sentences.append(f"{place}: withheld ({lake['gate'].iloc[0]}).")
            continue
        points, unit = _points(lake)
        now, then = (said(points.iloc[row], label(unit)) for row in (0, -1))
        words = f"{place}: from {now} now to {then} after {counted(len(lake) - 1, 'pull')}"
        if _weighed(lake):
            ends = lake.iloc[[0, -1]]
            words += "; probability below the threshold from " + " to ".join(
                percent_with_error(row.probability_below, row.mc_error) for row in rows_of(ends)
            )
        if lake["expected_loss"].notna().all():
            best = next(rows_of(lake[lake["expected_loss"] == lake["expected_loss"].min()]))
            when = f"after {counted(best.pull, 'pull')}" if best.pull else "now"
            loss = " ".join(
                [with_error(best.expected_loss, best.loss_mc_error, whole=True), *currency_of(lake)]
            )
            words += (
                f"; the expected loss is least, {loss}, when netting ends {when} "
                "(± is the error of the computation)"
            )
        sentences.append(f"{words}.")
    return " ".join(sentences)
