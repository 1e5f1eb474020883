"""What the figures share: panels of a readable size, axes of dates and fish, notes in a panel."""

from __future__ import annotations

import functools
import math
import textwrap
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import matplotlib as mpl
import numpy as np
from matplotlib.dates import AutoDateLocator, ConciseDateFormatter
from matplotlib.figure import Figure
from matplotlib.ticker import FuncFormatter, MaxNLocator

from fishdown.intervals import low_median_high
from fishdown.palette import LIGHT, Palette, settings
from fishdown.posterior.quantities import quantities
from fishdown.statements.probability import says
from fishdown.units import label, shown
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
# The line of a threshold or a target.
DASHED: dict[str, Any] = {"ls": (0, (5, 3)), "lw": 1.3}


@dataclass(frozen=True)
class View:
    """A fit as a figure is to show it.

    Attributes
    ----------
    fit : FittedCampaign
    seasons : list of int
        Positions of the seasons to show.
    palette : Palette
    despite_gate : bool
        Show also what a failed gate would withhold.
    """

    fit: FittedCampaign
    seasons: list[int]
    palette: Palette
    despite_gate: bool

    @property
    def netted(self) -> list[int]:
        """Those of the seasons that have pulls."""
        pulled = set(self.fit.campaign.pulls["season_index"].values.tolist())
        return [season for season in self.seasons if season in pulled]

    @property
    def weighed(self) -> list[int]:
        """Those of the seasons that have an estimate of biomass."""
        return [season for season in self.seasons if says(self.fit, "biomass_after", season)]

    def by_lake(self, seasons: Iterable[int]) -> list[list[int]]:
        """Group seasons by their lakes."""
        lakes: dict[str, list[int]] = {}
        for season in seasons:
            lake = str(self.fit.campaign.seasons["lake"].values[season])
            lakes.setdefault(lake, []).append(season)
        return [*lakes.values()]

    def name(self, season: int) -> str:
        """Return the label of a season, in full."""
        return str(self.fit.campaign.seasons["season"].values[season])

    def label(self, season: int) -> str:
        """Return the label of a season within its lake."""
        return str(self.fit.campaign.seasons["label"].values[season])

    def withheld(self, season: int) -> str:
        """Return why the estimates of a season may not be shown; empty when they may."""
        return "" if self.despite_gate else self.fit.failure(season)

    def draws(self, quantity: str, season: int) -> FloatArray:
        """Return the draws of a quantity in a season, shape (chain, draw), as they are shown."""
        draws: FloatArray = self.fit.quantities[quantity].isel(season=season).values
        return in_shown_unit(quantity, draws)

    def points(self, quantity: str, season: int) -> FloatArray:
        """Return median and interval of a quantity in a season: low, median, high."""
        return low_median_high(self.draws(quantity, season))

    def threshold(self, season: int) -> float:
        """Return the threshold of the lake of a season, as it is shown."""
        return float(shown(float(self.fit.campaign.lake_of(season)["threshold"]), "kg/ha"))

    def told(self, seasons: Sequence[int], sentence: Callable[[int], str]) -> str:
        """Return a sentence on each season, or that its estimate is withheld, and why."""
        reasons = {season: self.withheld(season) for season in seasons}
        return " ".join(
            f"{self.name(season)}: {f'estimate withheld ({why})' if why else sentence(season)}."
            for season, why in reasons.items()
        )


def in_shown_unit(quantity: str, values: FloatArray) -> FloatArray:
    """Return values of a reported quantity in the unit that is shown."""
    known = quantities()
    found: FloatArray = shown(values, known[quantity].unit) if quantity in known else values
    return found


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


def uneven_strips(heights: Sequence[float], **options: Any) -> tuple[Figure, Any]:
    """Make a figure with one panel below the other, each of its own height in inches."""
    figure = Figure(figsize=(PANEL_WIDTH, sum(heights) + 0.3), layout="constrained")
    axes = figure.subplots(len(heights), 1, squeeze=False, height_ratios=heights, **options)[:, 0]
    return figure, axes


def columns(
    count: int, heights: Sequence[float], tall: float, **options: Any
) -> tuple[Figure, list[Any]]:
    """Make a figure with columns of panels, three abreast at most.

    Parameters
    ----------
    count : int
        How many columns.
    heights : sequence of float
        Of the panels of a column, relative to each other.
    tall : float
        Height of a column in inches.
    """
    across, parts = min(count, 3), len(heights)
    rows = math.ceil(count / across)
    figure = Figure(figsize=(across * PANEL_WIDTH, rows * tall), layout="constrained")
    axes = figure.subplots(
        parts * rows, across, squeeze=False, height_ratios=[*heights] * rows, **options
    )
    found = [column for row in np.split(axes, rows) for column in row.T]
    for panel in (one for column in found[count:] for one in column):
        panel.set_axis_off()
    return figure, found[:count]


def remark(axes: Axes, text: str, colour: str) -> None:
    """Write a remark above a panel, on the right."""
    axes.set_title(text, loc="right", fontsize=7.5, fontweight="normal", color=colour)


def in_row(axes: Axes, place: float, text: str, x: float = 0.01, **options: Any) -> None:
    """Write into a row of a panel, from a share of its width on."""
    axes.text(x, place, text, va="center", transform=axes.get_yaxis_transform(), **options)


def beside(
    axes: Axes, text: str, at: tuple[float, float], away: tuple[float, float], **options: Any
) -> None:
    """Write beside a point of a panel, so many points of type away from it."""
    axes.annotate(text, at, xytext=away, textcoords="offset points", fontsize=7.5, **options)


def short(name: str, width: int = LONGEST_NAME) -> str:
    """Shorten a name that would not fit."""
    return name if len(name) <= width else name[: width - 1].rstrip() + "…"


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


def threshold_line(axes: Axes, threshold: float, palette: Palette) -> None:
    """Draw the threshold of a lake, as it is shown, across a panel of biomass density."""
    words = f"threshold {amount(threshold)} {label('kg/ha')}"
    axes.axhline(threshold, color=palette.threshold, **DASHED, label=words)


def paper_box(palette: Palette, *, alpha: float | None = None, pad: float = 1.0) -> dict[str, Any]:
    """Return the box that keeps words legible above what is drawn."""
    return {"facecolor": palette.paper, "edgecolor": "none", "alpha": alpha, "pad": pad}


def names_axis(axes: Axes, names: Sequence[str], **options: Any) -> None:
    """Write a name beside each row, from the top."""
    axes.set_yticks(range(len(names)), list(names), **options)
    axes.set_ylim(max(len(names), 1) - 0.4, -0.6)
    axes.tick_params(axis="y", length=0)


def interval_row(
    axes: Axes, points: Iterable[float], place: float, colour: str, marker: str = "o"
) -> None:
    """Draw an interval and its median in a row."""
    low, median, high = points
    axes.plot([low, high], [place] * 2, color=colour, lw=3.2, alpha=0.55, solid_capstyle="butt")
    axes.plot(median, place, marker, ms=5, color=colour)


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
