"""Biomass density before and after netting, against the threshold."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy.stats import gaussian_kde

from fishdown.figures.canvas import (
    DASHED,
    View,
    counts_axis,
    paper_box,
    remark,
    said,
    short,
    strips,
    withheld_note,
)
from fishdown.intervals import low_median_high
from fishdown.statements.probability import probability_below, says
from fishdown.units import label
from fishdown.words import amount, likelihood_words, percent

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from fishdown.posterior.fitted import FittedCampaign
    from fishdown.typing import FloatArray

TITLE = "Biomass density before and after netting"
POINTS_OF_CURVE = 120
HEIGHT = 1.35


def missing(fit: FittedCampaign) -> str:
    """Return why there is nothing to draw."""
    if any(says(fit, "biomass_after", season) for season in range(fit.season_count)):
        return ""
    return label("no fish was weighed, so biomass density (kg/ha) cannot be estimated")


def shown(view: View) -> list[int]:
    """Return the seasons that have a strip."""
    return view.weighed


def draw(view: View) -> Figure:
    """Draw the density before netting upwards and after netting downwards, a strip a season.

    The part below the threshold is filled and its share written beside it; the bars inside are the
    90 % intervals. Heights are comparable within a strip only. All strips share the axis in kg/ha.
    """
    palette = view.palette
    figure, axes = strips(len(view.weighed), HEIGHT, sharex=True)
    right = 0.0
    for season, panel in zip(view.weighed, axes, strict=True):
        panel.set_title(short(view.name(season), 30))
        panel.set_yticks([])
        panel.spines["left"].set_visible(False)
        panel.grid(visible=False, axis="y")
        panel.set_ylim(-1.25, 1.25)
        right = max(right, 1.25 * view.threshold(season))
        reason = view.withheld(season)
        if reason:
            withheld_note(panel, reason, palette)
        else:
            right = max(right, _halves(view, season, panel))
    for season, panel in zip(view.weighed, axes, strict=True):
        panel.set_xlim(0.0, right)
        threshold = view.threshold(season)
        panel.axvline(threshold, color=palette.threshold, **DASHED)
        words = f"– –  threshold {amount(threshold)} {label('kg/ha')}"
        remark(panel, words, palette.threshold)
    counts_axis(axes[-1].xaxis)
    axes[-1].set_xlabel(label("biomass density, kg/ha"))
    figure.supylabel("probability density", fontsize=8)
    return figure


def _halves(view: View, season: int, axes: Axes) -> float:
    """Draw both halves; returns how far to the right they reach, in kg/ha."""
    before, after = (view.draws(f"biomass_{when}", season) for when in ("before", "after"))
    threshold, palette = view.threshold(season), view.palette
    curves = [_curve(draws, threshold) for draws in (before, after)]
    tallest = max(height.max() for _, height in curves)
    right = max(x[-1] for x, _ in curves)
    axes.axhline(0.0, color=palette.quiet, lw=0.8)
    for (x, height), draws, side, colour, when in zip(
        curves,
        (before, after),
        (1.0, -1.0),
        (palette.other, palette.estimate),
        ("before", "after"),
        strict=True,
    ):
        y = side * height / tallest
        _fill(axes, x, y, colour, 0.22)
        _fill(axes, x[x <= threshold], y[x <= threshold], colour, 0.75)
        axes.plot(x, y, color=colour, lw=1.2)
        low, median, high = low_median_high(draws)
        axes.plot([low, high], [0.12 * side] * 2, color=palette.ink, lw=2.2, solid_capstyle="butt")
        axes.plot(median, 0.12 * side, "o", ms=4, color=palette.ink, mec=palette.paper, mew=0.8)
        share = percent(probability_below(draws, threshold)[0])
        axes.text(
            0.99,
            0.5 + 0.44 * side,
            f"{when}: {share} below",
            transform=axes.transAxes,
            ha="right",
            va="top" if side > 0 else "bottom",
            fontsize=8,
            color=palette.ink,
            bbox=paper_box(palette, alpha=0.8),
        )
    # Room for the words on the right.
    return float(right * 1.28)


def _fill(axes: Axes, x: FloatArray, y: FloatArray, colour: str, alpha: float) -> None:
    """Fill between a curve and zero: half the points of Matplotlib's `fill_between`."""
    if len(x):
        axes.fill([x[0], *x, x[-1]], [0.0, *y, 0.0], color=colour, alpha=alpha, lw=0)


def _curve(draws: FloatArray, threshold: float) -> tuple[FloatArray, FloatArray]:
    """Return the density of draws, at the threshold too, where the filled part ends."""
    flat = draws.ravel()
    low, high = np.quantile(flat, [0.001, 0.999])
    spread = 0.15 * (high - low)
    x = np.linspace(max(0.0, low - spread), high + spread, POINTS_OF_CURVE)
    if x[0] < threshold < x[-1]:
        x = np.insert(x, np.searchsorted(x, threshold), threshold)
    if high == low:
        return x, np.zeros_like(x)
    return x, gaussian_kde(flat)(x)


def describe(view: View) -> str:
    """Describe what `draw` shows."""
    return view.told(view.weighed, lambda season: _sentence(view, season))


def _sentence(view: View, season: int) -> str:
    threshold, unit = view.threshold(season), label("kg/ha")
    parts = []
    for when in ("before", "after"):
        draws = view.draws(f"biomass_{when}", season)
        share = probability_below(draws, threshold)[0]
        parts.append(
            f"{when} netting {said(low_median_high(draws), unit)}, below the threshold of "
            f"{amount(threshold)} {unit} {likelihood_words(share)} ({percent(share)})"
        )
    return "; ".join(parts)
