"""Comparison of lakes: the effect of partial pooling, and the typical lake."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

import numpy as np

from fishdown.figures.canvas import (
    PANEL_WIDTH,
    chosen,
    counts_axis,
    in_palette,
    said,
    season_name,
    withheld,
)
from fishdown.intervals import low_median_high
from fishdown.palette import LIGHT, Palette
from fishdown.records.tables import rows_of
from fishdown.statements.comparison import comparison
from fishdown.statements.probability import says

if TYPE_CHECKING:
    from collections.abc import Sequence

    import pandas as pd
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from fishdown.posterior.fitted import FittedCampaign
    from fishdown.typing import FloatArray

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


def _compared(fit: FittedCampaign) -> list[str]:
    return [name for name in COMPARED if name in fit.quantities]


def _rows(
    fit: FittedCampaign, name: str, seasons: Sequence[int], *, despite_gate: bool
) -> dict[int, str]:
    """Return the seasons that a quantity has a row for, and what the row is called."""
    if name not in OF_LAKES:
        return {season: season_name(fit, season) for season in seasons}
    of_lake: dict[int, list[int]] = {}
    for season in seasons:
        lake = int(fit.campaign.seasons["lake_index"].values[season])
        of_lake.setdefault(lake, []).append(season)
    rows = {}
    for mine in of_lake.values():
        told = [season for season in mine if not withheld(fit, season, despite_gate=despite_gate)]
        latest = (told or mine)[-1]
        lake_name = str(fit.campaign.seasons["lake"].values[latest])
        rows[latest] = season_name(fit, latest) if len(mine) == 1 else lake_name
    return rows


@in_palette
def draw(
    fit: FittedCampaign,
    *,
    seasons: Sequence[int] | None = None,
    palette: Palette = LIGHT,
    despite_gate: bool = False,
    own: pd.DataFrame | None = None,
) -> Figure:
    """Draw medians and 90 % intervals of quantities of each lake, one panel per quantity.

    Parameters
    ----------
    fit : FittedCampaign
    seasons : sequence of int, optional
        Positions of the seasons to show.
    palette : Palette
    despite_gate : bool
        Draw also what a failed gate would withhold.
    own : pandas.DataFrame, optional
        What each lake says when it is fitted by itself: columns lake, season, quantity, low,
        median, high as in `Fit.estimates`, or alone_low, alone_median, alone_high beside the
        pooled ones. Drawn hollow beside the pooled estimate. By default `Fit.comparison` where
        the lakes were also fitted alone.
    """
    from matplotlib.figure import Figure

    if own is None and "alone" in fit.tree.children:
        own = comparison(fit, despite_gate=despite_gate)
    names = _compared(fit)
    shown = chosen(fit, seasons)
    rows = {name: _rows(fit, name, shown, despite_gate=despite_gate) for name in names}
    heights = [len(rows[name]) * ROW + 0.75 for name in names]
    figure = Figure(figsize=(PANEL_WIDTH, sum(heights) + 0.3), layout="constrained")
    axes = figure.subplots(len(names), 1, squeeze=False, height_ratios=heights)[:, 0]
    for name, panel in zip(names, axes, strict=True):
        words, scale = COMPARED[name]
        panel.set_xlabel(words.format(reference=fit.spec.reference_temperature))
        labels = [_two_lines(words) for words in rows[name].values()]
        panel.set_yticks(range(len(labels)), labels, fontsize=7.5)
        panel.set_ylim(len(labels) - 0.4, -0.6)
        panel.grid(visible=False, axis="y")
        panel.tick_params(axis="y", length=0)
        if not all(withheld(fit, season, despite_gate=despite_gate) for season in rows[name]):
            _typical(fit, name, scale, panel, palette)
        for place, season in enumerate(rows[name]):
            if withheld(fit, season, despite_gate=despite_gate):
                panel.text(
                    0.01,
                    place,
                    "withheld",
                    va="center",
                    fontsize=8,
                    transform=panel.get_yaxis_transform(),
                )
                continue
            if says(fit, name, season):
                low, median, high = scale * low_median_high(_draws(fit, name, season))
                panel.plot(
                    [low, high],
                    [place, place],
                    color=palette.estimate,
                    lw=3.2,
                    alpha=0.55,
                    solid_capstyle="butt",
                )
                panel.plot(median, place, "o", ms=5, color=palette.estimate)
            _own(fit, season, name, own, scale, place, panel, palette)
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
    low, median, high = scale * low_median_high(posterior[f"{name}_typical"].values)
    axes.axvspan(low, high, color=palette.quiet, alpha=0.10, lw=0)
    axes.axvline(median, color=palette.quiet, lw=1.0, ls=(0, (1, 2)))
    axes.set_title(
        "dotted: a typical lake",
        loc="right",
        fontsize=7.5,
        fontweight="normal",
        color=palette.quiet,
    )


def _own(
    fit: FittedCampaign,
    season: int,
    name: str,
    own: pd.DataFrame | None,
    scale: float,
    place: int,
    axes: Axes,
    palette: Palette,
) -> None:
    if own is None:
        return
    prefix = "alone_" if "alone_median" in own else ""
    stay = fit.campaign.seasons.isel(season=season)
    mine = own[
        (own["lake"] == str(stay["lake"].values))
        & (own["season"].astype(str) == str(stay["label"].values))
        & (own["quantity"] == name)
        & own[f"{prefix}median"].notna()
    ]
    for row in rows_of(mine):
        low, median, high = (
            scale * getattr(row, f"{prefix}{point}") for point in ("low", "median", "high")
        )
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


def _draws(fit: FittedCampaign, name: str, season: int) -> FloatArray:
    draws: FloatArray = fit.quantities[name].isel(season=season).values
    return draws


def describe(
    fit: FittedCampaign, *, seasons: Sequence[int] | None = None, despite_gate: bool = False
) -> str:
    """Describe what `draw` shows."""
    shown = chosen(fit, seasons)
    sentences = []
    for name in _compared(fit):
        words, scale = COMPARED[name]
        quantity = words.format(reference=fit.spec.reference_temperature)
        rows = _rows(fit, name, shown, despite_gate=despite_gate)
        open_to_see = [
            season
            for season in rows
            if says(fit, name, season) and not withheld(fit, season, despite_gate=despite_gate)
        ]
        if not open_to_see:
            sentences.append(f"{quantity}: withheld for every lake.")
            continue
        points = {
            season: scale * low_median_high(_draws(fit, name, season)) for season in open_to_see
        }
        medians = np.array([points[season][1] for season in open_to_see])
        least, most = open_to_see[int(medians.argmin())], open_to_see[int(medians.argmax())]
        sentence = (
            f"{quantity}: from {said(points[least], '')} in {rows[least]} to "
            f"{said(points[most], '')} in {rows[most]}"
        ).replace("  ", " ")
        hidden = len(rows) - len(open_to_see)
        sentences.append(f"{sentence}{f'; {hidden} not shown' if hidden else ''}.")
    return " ".join(sentences)
