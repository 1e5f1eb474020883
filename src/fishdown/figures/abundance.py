"""Fish in the lake from the first pull to the last, and the catch of each day."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from matplotlib.dates import date2num
from matplotlib.figure import Figure

from fishdown.figures.canvas import (
    PANEL_HEIGHT,
    PANEL_WIDTH,
    View,
    beside,
    counts_axis,
    date_axis,
    grid_shape,
    paper_box,
    quantiles,
    room_above,
    said,
    short,
    withheld_note,
)
from fishdown.intervals import POINTS, low_median_high
from fishdown.models.parts.open_lake.times import Spell, of_pulls
from fishdown.posterior.at_draws import rates_at_draws
from fishdown.statements.probability import says
from fishdown.units import shown
from fishdown.words import amount, counted

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from fishdown.palette import Palette
    from fishdown.posterior.fitted import FittedCampaign
    from fishdown.typing import FloatArray

TITLE = "Fish in the lake and catches, pull by pull"
# With fewer netting days than this, pulls are numbered instead of dated.
FEWEST_DAYS = 3


def missing(fit: FittedCampaign) -> str:
    """Return why there is nothing to draw: there always is something."""
    return ""


def draw(view: View) -> Figure:
    """Draw abundance (fish) through the pulls above the catches, one pair of panels a season."""
    rows, columns = grid_shape(len(view.netted))
    figure = Figure(
        figsize=(columns * PANEL_WIDTH, rows * (PANEL_HEIGHT + 0.5)), layout="constrained"
    )
    grid = figure.add_gridspec(2 * rows, columns, height_ratios=[2.6, 1.0] * rows)
    for place, season in enumerate(view.netted):
        row, column = divmod(place, columns)
        above = figure.add_subplot(grid[2 * row, column])
        below = figure.add_subplot(grid[2 * row + 1, column], sharex=above)
        _season(view, season, above, below)
    return figure


def _season(view: View, season: int, above: Axes, below: Axes) -> None:
    course, palette = _Course(view, season), view.palette
    above.set_title(short(view.name(season)))
    above.set_ylabel("fish in the lake")
    above.tick_params(labelbottom=False)
    reason = view.withheld(season)
    if reason:
        withheld_note(above, reason, palette)
        above.set_yticks([])
    else:
        low, median, high = quantiles(course.left, POINTS)
        above.fill_between(
            course.place, low, high, step="post", color=palette.estimate, alpha=0.22, lw=0
        )
        above.step(course.place, median, where="post", color=palette.estimate, lw=1.8)
        _ends(above, course, (low, median, high), palette)
        _threshold(view, season, above, float(median[-1]))
        counts_axis(above.yaxis)
        room_above(above, 0.12)
    below.bar(course.place[:-1], course.caught, width=course.bar, color=palette.ink, align="center")
    below.set_ylabel("fish\ncaught")
    counts_axis(below.yaxis, most=3)
    room_above(below)
    if course.dated:
        date_axis(below)
        below.set_xlabel("date, catches of each day")
    else:
        counts_axis(below.xaxis, whole=True)
        below.set_xlabel("pull, in time order")


class _Course:
    """Catches and fish removed, day by day, or pull by pull where there are few days."""

    def __init__(self, view: View, season: int) -> None:
        campaign = view.fit.campaign
        pulls = campaign.season_pulls(season)
        days = pulls["date"].values.astype("datetime64[D]")
        unique, day = np.unique(days, return_inverse=True)
        self.dated = len(unique) >= FEWEST_DAYS
        step = day if self.dated else np.arange(len(days))
        first = np.unique(step, return_index=True)[1]
        gone = pulls["gone_before"].values[first]
        gone = np.append(gone, float(campaign.seasons["gone"].values[season]))
        mine = campaign.pulls["season_index"].values == season
        ends = view.fit.data.times.end.at(season)
        spell = Spell(*map(np.append, of_pulls(campaign).at(mine).at(first), ends))
        before = view.draws("abundance_before", season).reshape(-1, 1)
        rates = rates_at_draws(view.fit.tree["posterior"].dataset)
        # Draws of the fish left, shape (draw, step).
        self.left: FloatArray = np.maximum(rates.present(before, gone, spell), 0.0)
        self.caught: FloatArray = np.bincount(step, weights=pulls["caught"].values)
        self.days = unique
        self.pulls = len(days)
        place: FloatArray = (
            date2num(unique) if self.dated else np.arange(1.0, len(days) + 1.0)  # type: ignore[no-untyped-call]
        )
        self.span = float(np.ptp(place)) + 1.0
        # Abundance after the last pull is drawn some way on, to be visible.
        self.place: FloatArray = np.append(place, place[-1] + max(1.0, 0.04 * self.span))
        self.bar = max(0.8, self.span / 90.0) if self.dated else 0.7


def _ends(axes: Axes, course: _Course, points: Any, palette: Palette) -> None:
    """Write the first number above the band and the last one beside it."""
    low, median, high = points
    for end, x, y, offset, align in (
        (0, course.place[0], high[0], (0, 3), "bottom"),
        (-1, course.place[-1], median[-1], (5, 0), "center"),
    ):
        words = f"{amount(median[end])}\n{amount(low[end])}–{amount(high[end])}"
        box = paper_box(palette, alpha=0.85, pad=0.8)
        beside(
            axes, words, (x, y), offset, ha="left", va=align, color=palette.estimate,
            linespacing=1.15, bbox=box, zorder=5,
        )  # fmt: skip
    axes.set_xlim(course.place[0] - 0.04 * course.span, course.place[-1] + 0.3 * course.span)


def _threshold(view: View, season: int, axes: Axes, left: float) -> None:
    """Draw the number of fish equivalent to the threshold, with the uncertainty of their weight."""
    fish, palette = _threshold_fish(view, season), view.palette
    if fish is None:
        return
    low, median, high = low_median_high(fish)
    axes.axhspan(low, high, color=palette.threshold, alpha=0.13, lw=0)
    axes.axhline(median, color=palette.threshold, ls=(0, (5, 3)), lw=1.2)
    # On the side away from what is left.
    above = left < median
    words = f"threshold, {amount(median)} ({amount(low)}–{amount(high)})"
    end, away, align = (high, 3, "bottom") if above else (low, -3, "top")
    beside(
        axes, words, (1.0, end), (-3, away), xycoords=("axes fraction", "data"),
        ha="right", va=align, color=palette.threshold,
    )  # fmt: skip


def _threshold_fish(view: View, season: int) -> FloatArray | None:
    """Return draws of the fish whose biomass is at the threshold; None without weights.

    threshold × area / mean weight of the fish left: kg/ha × ha / kg.
    """
    if not says(view.fit, "mean_weight_left", season):
        return None
    area = float(shown(float(view.fit.campaign.seasons["area_after"][season]), "ha"))
    return view.threshold(season) * area / view.draws("mean_weight_left", season).ravel()


def describe(view: View) -> str:
    """Describe what `draw` shows."""
    return " ".join(_sentence(view, season) for season in view.netted)


def _sentence(view: View, season: int) -> str:
    course, name = _Course(view, season), view.name(season)
    best = int(np.argmax(course.caught))
    when = f"on {course.days[best]}" if course.dated else f"in pull {best + 1}"
    caught = (
        f"{counted(course.pulls, 'pull')} caught {course.caught.sum():,.0f} fish in all, "
        f"at most {course.caught[best]:,.0f} {when}"
    )
    reason = view.withheld(season)
    if reason:
        return f"{name}: estimate withheld ({reason}); {caught}."
    first, last = (said(low_median_high(course.left[:, end]), "fish") for end in (0, -1))
    fish = _threshold_fish(view, season)
    line = "" if fish is None else f"; the threshold equals {said(low_median_high(fish), 'fish')}"
    return f"{name}: from {first} before the first pull to {last} after the last; {caught}{line}."
