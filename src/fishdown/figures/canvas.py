"""What the figures share: panels of a readable size, axes of dates and fish, notes in a panel."""

from __future__ import annotations

import functools
import math
import textwrap
from typing import TYPE_CHECKING, Any

import matplotlib as mpl
import numpy as np
from matplotlib.dates import AutoDateLocator, ConciseDateFormatter
from matplotlib.figure import Figure
from matplotlib.ticker import FuncFormatter, MaxNLocator

from fishdown.palette import LIGHT, Palette, settings
from fishdown.words import amount

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence

    from matplotlib.axes import Axes

    from fishdown.posterior.fitted import FittedCampaign
    from fishdown.typing import FloatArray

# One panel, in inches: at this width its text is readable on a phone.
PANEL_WIDTH = 4.2
PANEL_HEIGHT = 3.0
LONGEST_NAME = 38


def in_palette[**P](draw: Callable[P, Figure]) -> Callable[P, Figure]:
    """Run a drawing function with the settings of its palette."""

    @functools.wraps(draw)
    def drawn(*arguments: P.args, **options: P.kwargs) -> Figure:
        palette = options.get("palette", LIGHT)
        assert isinstance(palette, Palette)
        with mpl.rc_context(settings(palette)):  # type: ignore[arg-type]
            return draw(*arguments, **options)

    return drawn


def grid_shape(count: int) -> tuple[int, int]:
    """Return rows and columns for a number of panels."""
    columns = 1 if count == 1 else 2 if count <= 4 else 3
    return math.ceil(count / columns), columns


def panels(count: int, height: float = PANEL_HEIGHT) -> tuple[Figure, list[Axes]]:
    """Make a figure with one panel each."""
    rows, columns = grid_shape(count)
    figure = Figure(figsize=(columns * PANEL_WIDTH, rows * height), layout="constrained")
    axes = [figure.add_subplot(rows, columns, place + 1) for place in range(count)]
    return figure, axes


def strips(count: int, height: float, extra: float = 0.7, **options: Any) -> tuple[Figure, Any]:
    """Make a figure with one flat panel below the other."""
    figure = Figure(figsize=(PANEL_WIDTH, count * height + extra), layout="constrained")
    axes = figure.subplots(count, 1, squeeze=False, **options)[:, 0]
    return figure, list(axes)


def chosen(fit: FittedCampaign, seasons: Sequence[int] | None) -> list[int]:
    """Return positions of the seasons to draw: those asked for, or all."""
    return list(range(fit.campaign.seasons.sizes["season"])) if seasons is None else list(seasons)


def netted(fit: FittedCampaign, seasons: Sequence[int] | None) -> list[int]:
    """Return positions of the seasons to draw that have pulls."""
    pulled = set(fit.campaign.pulls["season_index"].values.tolist())
    return [season for season in chosen(fit, seasons) if season in pulled]


def season_name(fit: FittedCampaign, season: int) -> str:
    """Return the label of a season, in full."""
    return str(fit.campaign.seasons["season"].values[season])


def short(name: str, width: int = LONGEST_NAME) -> str:
    """Shorten a name that would not fit."""
    return name if len(name) <= width else name[: width - 1].rstrip() + "…"


def withheld(fit: FittedCampaign, season: int, *, despite_gate: bool) -> str:
    """Return why the estimates of a season may not be drawn; empty when they may."""
    return "" if despite_gate else fit.failure(season)


def note(axes: Axes, text: str, palette: Palette, *, y: float = 0.5) -> None:
    """Write a note into a panel instead of a drawing."""
    axes.text(
        0.5,
        y,
        textwrap.fill(text, 46),
        transform=axes.transAxes,
        ha="center",
        va="center",
        fontsize=8,
        color=palette.ink,
        bbox={"facecolor": palette.paper, "edgecolor": palette.quiet, "boxstyle": "round,pad=0.5"},
        zorder=10,
    )


def withheld_note(axes: Axes, reason: str, palette: Palette, *, y: float = 0.5) -> None:
    """Note in a panel that its estimates are withheld, and why."""
    note(axes, f"Estimate withheld: {reason}", palette, y=y)


def counts_axis(axis: Any, *, most: int = 5, whole: bool = False) -> None:
    """Write numbers with comma-set thousands, few of them."""
    axis.set_major_locator(MaxNLocator(most, integer=whole))
    axis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:,.10g}"))


def date_axis(axes: Axes) -> None:
    """Label dates without overlap."""
    locator = AutoDateLocator(minticks=3, maxticks=6)  # type: ignore[no-untyped-call]
    axes.xaxis.set_major_locator(locator)
    formatter = ConciseDateFormatter(locator, show_offset=False)  # type: ignore[no-untyped-call]
    axes.xaxis.set_major_formatter(formatter)


def room_above(axes: Axes, share: float = 0.08) -> None:
    """Start the axis of heights at zero and leave some room above."""
    top = axes.get_ylim()[1]
    axes.set_ylim(0.0, top * (1.0 + share) if top > 0 else 1.0)


def quantiles(draws: Any, points: Any) -> FloatArray:
    """Return quantiles over the draws of an array whose first dimension they are."""
    values: FloatArray = np.quantile(draws, points, axis=0)
    return values


def said(points: Iterable[float], unit: str) -> str:
    """Return an estimate, given by low, median and high, with its interval and unit, as text."""
    low, median, high = points
    return f"{amount(median)} {unit} (90 % interval {amount(low)} to {amount(high)})"
