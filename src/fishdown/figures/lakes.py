"""Comparison of lakes: the effect of partial pooling, and the typical lake."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

import numpy as np

from fishdown.figures.canvas import (
    View,
    counts_axis,
    in_row,
    in_shown_unit,
    interval_row,
    names_axis,
    remark,
    said,
    uneven_strips,
)
from fishdown.intervals import low_median_high
from fishdown.records.tables import rows_of
from fishdown.statements.comparison import comparison
from fishdown.statements.probability import says
from fishdown.units import label, shown

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from fishdown.palette import Palette
    from fishdown.posterior.fitted import FittedCampaign

TITLE = "Comparison of lakes"
# What lakes share: quantity → its axis, and what the number is multiplied by.
COMPARED = {
    "catchability_at_reference": (
        "share of fish in a net's first pull at {reference:g} °C, %",
        100.0,
    ),
    "temperature_effect": ("ratio of that share for 10 °C of cooling", 1.0),
    "mean_weight": ("mean weight of a fish, kg", 1.0),
}
# Those that are a lake's own in all its seasons, so that one row a lake says all.
OF_LAKES = ("catchability_at_reference", "temperature_effect")
ROW = 0.3


def missing(fit: FittedCampaign) -> str:
    """Return why there is nothing to draw."""
    if fit.campaign.seasons.sizes["season"] == 1:
        return "a single lake and season: no comparison is possible"
    if not _compared(fit):
        return "the model estimates no quantity by which lakes could be compared"
    return ""


def _said_of(words: str, fit: FittedCampaign) -> str:
    return label(words).format(reference=shown(fit.spec.reference_temperature, "°C"))


def _compared(fit: FittedCampaign) -> list[str]:
    return [name for name in COMPARED if name in fit.quantities]


def _rows(view: View, name: str) -> dict[int, str]:
    """Return the seasons that a quantity has a row for, and what the row is called."""
    if name not in OF_LAKES:
        return {season: view.name(season) for season in view.seasons}
    of_lake: dict[str, list[int]] = {}
    for season in view.seasons:
        lake = str(view.fit.campaign.seasons["lake"].values[season])
        of_lake.setdefault(lake, []).append(season)
    rows = {}
    for lake, mine in of_lake.items():
        told = [season for season in mine if not view.withheld(season)]
        latest = (told or mine)[-1]
        rows[latest] = view.name(latest) if len(mine) == 1 else lake
    return rows


def draw(view: View, own: pd.DataFrame | None = None) -> Figure:
    """Draw medians and 90 % intervals of quantities of each lake, one panel per quantity.

    Parameters
    ----------
    own : pandas.DataFrame, optional
        What each lake says when it is fitted by itself: columns lake, season, quantity, low,
        median, high as in `Fit.estimates`, or alone_low, alone_median, alone_high beside the
        pooled ones. Drawn hollow beside the pooled estimate. By default `Fit.comparison` where
        the lakes were also fitted alone.
    """
    fit, palette = view.fit, view.palette
    if own is None and "alone" in fit.tree.children:
        own = comparison(fit, despite_gate=view.despite_gate)
    names = _compared(fit)
    rows = {name: _rows(view, name) for name in names}
    figure, axes = uneven_strips([len(rows[name]) * ROW + 0.75 for name in names])
    for name, panel in zip(names, axes, strict=True):
        words, scale = COMPARED[name]
        panel.set_xlabel(_said_of(words, fit))
        names_axis(panel, [_two_lines(words) for words in rows[name].values()], fontsize=7.5)
        panel.grid(visible=False, axis="y")
        if not all(view.withheld(season) for season in rows[name]):
            _typical(fit, name, scale, panel, palette)
        for place, season in enumerate(rows[name]):
            if view.withheld(season):
                in_row(panel, place, "withheld", fontsize=8)
                continue
            if says(fit, name, season):
                interval_row(panel, scale * view.points(name, season), place, palette.estimate)
            if own is not None:
                _own(view, _of_season(own, view, season, name), scale, place, panel)
        if panel.lines:
            left, right = panel.get_xlim()
            panel.set_xlim(left=0.0 if left < 0.4 * right else left)
            counts_axis(panel.xaxis)
        else:
            panel.set_xticks([])
    if own is not None:
        _legend(figure, axes[0], palette)
    return figure


def _two_lines(name: str) -> str:
    lines = textwrap.wrap(name, 24) or [""]
    return "\n".join(lines[:2]) + ("…" if len(lines) > 2 else "")


def _typical(fit: FittedCampaign, name: str, scale: float, axes: Axes, palette: Palette) -> None:
    """Draw the estimate of a typical lake, if the model has one."""
    posterior = fit.tree["posterior"].dataset if "posterior" in fit.tree.children else {}
    if f"{name}_typical" not in posterior:
        return
    typical = in_shown_unit(name, posterior[f"{name}_typical"].values)
    low, median, high = scale * low_median_high(typical)
    axes.axvspan(low, high, color=palette.quiet, alpha=0.10, lw=0)
    axes.axvline(median, color=palette.quiet, lw=1.0, ls=(0, (1, 2)))
    remark(axes, "dotted: a typical lake", palette.quiet)


def _of_season(own: pd.DataFrame, view: View, season: int, name: str) -> pd.DataFrame:
    """Return what a lake says of a quantity when it is fitted by itself: one row, or none."""
    stay = view.fit.campaign.seasons.isel(season=season)
    return own[
        (own["lake"] == str(stay["lake"].values))
        & (own["season"].astype(str) == str(stay["label"].values))
        & (own["quantity"] == name)
    ]


def _own(view: View, own: pd.DataFrame, scale: float, place: int, axes: Axes) -> None:
    prefix, palette = "alone_" if "alone_median" in own else "", view.palette
    for row in rows_of(own[own[f"{prefix}median"].notna()]):
        points = [getattr(row, f"{prefix}{point}") for point in ("low", "median", "high")]
        low, median, high = scale * in_shown_unit(row.quantity, np.array(points, dtype=float))
        y = place + 0.24
        axes.plot([low, high], [y, y], color=palette.other, lw=1.4)
        axes.plot(median, y, "D", ms=4, color=palette.paper, mec=palette.other)


def _legend(figure: Figure, axes: Axes, palette: Palette) -> None:
    from matplotlib.lines import Line2D

    pooled = Line2D(
        [], [], color=palette.estimate, marker="o", ms=5, lw=3.2, label="partial pooling"
    )
    alone = Line2D(
        [],
        [],
        color=palette.other,
        marker="D",
        ms=4,
        mfc=palette.paper,
        lw=1.4,
        label="separate fit of each lake",
    )
    figure.legend(handles=[pooled, alone], loc="outside upper center", ncols=2)


def describe(view: View) -> str:
    """Describe what `draw` shows."""
    fit = view.fit
    sentences = []
    for name in _compared(fit):
        words, scale = COMPARED[name]
        quantity = _said_of(words, fit)
        rows = _rows(view, name)
        points = {
            season: scale * view.points(name, season)
            for season in rows
            if says(fit, name, season) and not view.withheld(season)
        }
        if not points:
            sentences.append(f"{quantity}: withheld for every lake.")
            continue
        least, most = (
            extreme(points, key=lambda season: points[season][1]) for extreme in (min, max)
        )
        sentence = (
            f"{quantity}: from {said(points[least], '')} in {rows[least]} to "
            f"{said(points[most], '')} in {rows[most]}"
        ).replace("  ", " ")
        hidden = len(rows) - len(points)
        sentences.append(f"{sentence}{f'; {hidden} not shown' if hidden else ''}.")
    return " ".join(sentences)
