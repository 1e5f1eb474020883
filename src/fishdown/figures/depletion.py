"""Catch against cumulative removal, with posterior lines of expected catch."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fishdown.figures.canvas import (
    View,
    beside,
    counts_axis,
    panels,
    paper_box,
    room_above,
    said,
    short,
    withheld_note,
)
from fishdown.intervals import low_median_high
from fishdown.posterior.curves import catchability_at
from fishdown.units import label, shown
from fishdown.words import amount, counted

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from fishdown.posterior.fitted import FittedCampaign
    from fishdown.typing import FloatArray

TITLE = "Catch against cumulative removal"
LINES = 60


def missing(fit: FittedCampaign) -> str:
    """Return why there is nothing to draw."""
    if "catchability_at_reference" not in fit.quantities:
        return "the model does not estimate catchability"
    return ""


def draw(view: View) -> Figure:
    """Draw catch (fish per pull) against cumulative removal (fish), with posterior lines.

    A line q (N − G) is the expected catch of a pull at the reference temperature; where it meets
    the axis, no fish is left. Filled points are catches adjusted to the reference temperature by
    the median effect; hollow points are the catches as recorded.
    """
    figure, axes = panels(len(view.netted))
    for season, panel in zip(view.netted, axes, strict=True):
        panel.set_title(short(view.name(season)))
        panel.set_xlabel("cumulative removal before the pull, fish")
        panel.set_ylabel("catch of the pull, fish")
        reason = view.withheld(season)
        if not reason:
            _lines(view, season, panel)
        _pulls(view, season, panel)
        if reason:
            withheld_note(panel, reason, view.palette, y=0.8)
        counts_axis(panel.xaxis)
        counts_axis(panel.yaxis)
        room_above(panel, 0.18)
    return figure


def _lines(view: View, season: int, axes: Axes) -> None:
    palette = view.palette
    fish, catch = _fish_and_catch(view, season)
    some = np.linspace(0, len(fish) - 1, min(LINES, len(fish))).astype(int)
    # One path of many pieces: much smaller in a file than as many lines.
    x = np.stack([np.zeros(len(some)), fish[some], np.full(len(some), np.nan)], axis=1)
    y = np.stack([catch[some], np.zeros(len(some)), np.full(len(some), np.nan)], axis=1)
    axes.plot(x.ravel(), y.ravel(), color=palette.estimate, alpha=0.22, lw=0.8)
    low, median, high = low_median_high(fish)
    axes.plot(
        [low, high], [0, 0], color=palette.estimate, lw=5, solid_capstyle="butt", clip_on=False
    )
    words = f"{amount(median)} fish before netting\n{amount(low)}–{amount(high)}"
    box = paper_box(palette, alpha=0.8)
    beside(
        axes, words, (median, 0), (0, 7), ha="right", va="bottom", color=palette.estimate, bbox=box
    )
    axes.set_xlim(0.0, 1.05 * high)


def _fish_and_catch(view: View, season: int) -> tuple[FloatArray, FloatArray]:
    """Return draws of the fish before netting, and of the catch of the first pull they expect."""
    fish: FloatArray = view.draws("abundance_before", season).ravel()
    reference = np.array([view.fit.spec.reference_temperature])
    return fish, catchability_at(view.fit, season, reference)[:, 0] * fish


def _pulls(view: View, season: int, axes: Axes) -> None:
    fit, palette = view.fit, view.palette
    pulls = fit.campaign.season_pulls(season)
    speaks = ~pulls["spoiled"].values
    removed, caught = pulls["gone_before"].values, pulls["caught"].values
    warmed = np.full(len(caught), np.nan) if view.withheld(season) else _at_reference(fit, season)
    moved = speaks & ~np.isnan(warmed)
    recorded = "as recorded" if moved.any() else "pull"
    axes.plot(
        removed[speaks],
        caught[speaks],
        "o",
        ms=3.6,
        color=palette.paper,
        mec=palette.ink,
        mew=0.8,
        label=recorded,
    )
    if moved.any():
        axes.vlines(removed[moved], caught[moved], warmed[moved], color=palette.quiet, lw=0.6)
        words = f"at {shown(fit.spec.reference_temperature, '°C'):g} {label('°C')}"
        axes.plot(removed[moved], warmed[moved], "o", ms=3.4, color=palette.ink, label=words)
    if not speaks.all():
        axes.plot(
            removed[~speaks], caught[~speaks], "x", ms=4.5, color=palette.other, label="void lift"
        )
    axes.set_xlim(left=0.0)
    axes.legend(loc="upper right", handletextpad=0.2, borderaxespad=0.2, ncols=3, columnspacing=1.0)


def _at_reference(fit: FittedCampaign, season: int) -> FloatArray:
    """Return catches adjusted to the reference temperature by the median effect."""
    pulls = fit.campaign.season_pulls(season)
    temperature = pulls["temperature"].values
    known = ~np.isnan(temperature)
    warmed = np.full(len(temperature), np.nan)
    if fit.spec.part("temperature") != "none" and known.any():
        reference = np.array([fit.spec.reference_temperature])
        then = catchability_at(fit, season, temperature[known])
        effect = np.median(catchability_at(fit, season, reference) / then, axis=0)
        warmed[known] = pulls["caught"].values[known] * effect
    return warmed


def describe(view: View) -> str:
    """Describe what `draw` shows."""
    sentences = []
    for season in view.netted:
        name = view.name(season)
        pulls = view.fit.campaign.season_pulls(season)
        removed = float(pulls["removed"].sum())
        records = f"{counted(pulls.sizes['pull'], 'pull')} removed {removed:,.0f} fish in all"
        reason = view.withheld(season)
        if reason:
            sentences.append(f"{name}: {records}; the lines are withheld ({reason}).")
            continue
        fish, catch = _fish_and_catch(view, season)
        sentences.append(
            f"{name}: {records}; the lines start at a catch of "
            f"{said(low_median_high(catch), 'fish per pull')} and reach zero at "
            f"{said(low_median_high(fish), 'fish')} removed."
        )
    return " ".join(sentences)
