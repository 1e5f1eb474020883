"""Convergence: R-hat and effective sample sizes of every reported quantity."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from matplotlib.figure import Figure
from matplotlib.ticker import FuncFormatter, LogLocator, NullFormatter

from fishdown.figures.canvas import DASHED, PANEL_WIDTH, View, names_axis
from fishdown.posterior.quality import LARGEST_RHAT, SMALLEST_ESS
from fishdown.words import counted

if TYPE_CHECKING:
    import xarray as xr
    from matplotlib.axes import Axes

    from fishdown.posterior.fitted import FittedCampaign
    from fishdown.typing import FloatArray

TITLE = "Convergence"
ROW = 0.21


def missing(fit: FittedCampaign) -> str:
    """Return why there is nothing to draw: there always is something."""
    return ""


def draw(view: View) -> Figure:
    """Draw R-hat above effective sample sizes, one dot a season, with the limits of the gate."""
    quality, shown, palette = view.fit.quality, view.seasons, view.palette
    names = [str(name) for name in quality.rhat.data_vars]
    figure = Figure(figsize=(PANEL_WIDTH, 2 * (len(names) * ROW + 0.75)), layout="constrained")
    above, below = figure.subplots(2, 1)
    _dots(above, quality.rhat, names, shown, palette.ink, "o", "R-hat")
    above.axvline(LARGEST_RHAT, color=palette.threshold, **DASHED | {"lw": 1.2})
    above.set_xlim(left=min(0.999, above.get_xlim()[0]), right=max(1.012, above.get_xlim()[1]))
    above.set_xlabel(f"R-hat (no unit), at most {LARGEST_RHAT:g}")
    _dots(below, quality.ess_bulk, names, shown, palette.estimate, "o", "bulk")
    _dots(below, quality.ess_tail, names, shown, palette.other, "D", "tail")
    below.axvline(SMALLEST_ESS, color=palette.threshold, **DASHED | {"lw": 1.2})
    below.set_xscale("log")
    below.xaxis.set_major_locator(LogLocator(subs=(1.0, 2.0, 4.0)))
    below.xaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:,.10g}"))
    below.xaxis.set_minor_formatter(NullFormatter())
    below.set_xlim(left=min(300.0, below.get_xlim()[0]))
    below.set_xlabel(f"effective sample size (draws), at least {SMALLEST_ESS:g}")
    below.legend(
        loc="lower right", bbox_to_anchor=(1.0, 0.98), ncols=2, handletextpad=0.2, columnspacing=1.0
    )
    return figure


def _dots(
    axes: Axes,
    values: xr.Dataset,
    names: list[str],
    shown: list[int],
    colour: str,
    marker: str,
    label: str,
) -> None:
    for place, name in enumerate(names):
        here = _values(values[name], shown)
        here = here[np.isfinite(here)]
        axes.plot(
            here,
            np.full(len(here), place),
            marker,
            ms=4,
            color=colour,
            alpha=0.7,
            label=label if place == 0 else None,
        )
    names_axis(axes, [name.replace("_", " ") for name in names])
    axes.tick_params(axis="y", labelsize=7.5)


def _values(array: xr.DataArray, shown: list[int]) -> FloatArray:
    values: FloatArray = np.atleast_1d(array.values)
    return values[shown] if "season" in array.dims else values


def describe(view: View) -> str:
    """Describe what `draw` shows."""
    quality, shown = view.fit.quality, view.seasons

    def of(values: xr.Dataset) -> FloatArray:
        return np.concatenate([_values(array, shown) for array in values.data_vars.values()])

    failing = [view.name(season) for season in shown if quality.failure(season)]
    outcome = f"fails for {', '.join(failing)}" if failing else "is passed"
    undefined = int((~np.isfinite(of(quality.rhat))).sum())
    remark = f", {undefined} not defined" if undefined else ""
    return (
        f"{len(quality.rhat.data_vars)} quantities: R-hat up to {np.nanmax(of(quality.rhat)):.4f} "
        f"(limit {LARGEST_RHAT:g}){remark}, effective sample sizes from "
        f"{np.nanmin(of(quality.ess_bulk)):,.0f} in the bulk and "
        f"{np.nanmin(of(quality.ess_tail)):,.0f} in the tails (limit {SMALLEST_ESS:g}), "
        f"{counted(quality.divergences, 'divergence')}; the quality gate {outcome}."
    )
