"""Biomass (or fish) density of a lake season by season, before and after netting."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fishdown.figures.canvas import (
    View,
    counts_axis,
    panels,
    room_above,
    said,
    short,
    threshold_line,
)
from fishdown.statements.probability import says
from fishdown.units import label

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from fishdown.posterior.fitted import FittedCampaign

TITLE = "Density before and after netting, season by season"
APART = 0.16


def missing(fit: FittedCampaign) -> str:
    """Return why there is nothing to draw."""
    lakes = fit.campaign.seasons["lake"].values
    return "no lake has more than one season" if len(set(lakes)) == len(lakes) else ""


def shown(view: View) -> list[int]:
    """Return the seasons of lakes that have several."""
    return [season for several in _lakes(view).values() for season in several]


def _lakes(view: View) -> dict[str, list[int]]:
    names = view.fit.campaign.seasons["lake"].values
    return {
        str(names[several[0]]): several
        for several in view.by_lake(view.seasons)
        if len(several) > 1
    }


def draw(view: View) -> Figure:
    """Draw biomass density (kg/ha; fish/ha without weights) season by season, a panel a lake.

    Medians with 90 % intervals before and after netting; dotted from one season to the next.
    """
    lakes = _lakes(view)
    figure, axes = panels(len(lakes))
    for (lake, several), panel in zip(lakes.items(), axes, strict=True):
        panel.set_title(short(lake))
        _lake(view, several, panel)
    return figure


def _lake(view: View, seasons: list[int], axes: Axes) -> None:
    palette = view.palette
    what, unit = _measure(view.fit, seasons)
    axes.set_ylabel(f"{'biomass' if what == 'biomass' else 'fish'} density, {unit}")
    axes.set_xlabel("season")
    axes.set_xticks(range(len(seasons)), [short(view.label(season), 9) for season in seasons])
    axes.grid(visible=False, axis="x")
    last: tuple[float, float] | None = None
    for place, season in enumerate(seasons):
        if view.withheld(season) or not says(view.fit, f"{what}_after", season):
            axes.annotate(
                "withheld",
                (place, 0.03),
                xycoords=("data", "axes fraction"),
                rotation=90,
                ha="center",
                va="bottom",
                fontsize=8,
            )
            last = None
            continue
        ends = []
        for side, when, colour, marker in (
            (-APART, "before", palette.other, "o"),
            (APART, "after", palette.estimate, "s"),
        ):
            low, median, high = view.points(f"{what}_{when}", season)
            x = place + side
            axes.plot([x, x], [low, high], color=colour, lw=3.2, alpha=0.5, solid_capstyle="butt")
            axes.plot(
                x,
                median,
                marker,
                ms=5,
                color=colour,
                label=f"{when} netting" if place == 0 else None,
            )
            ends.append((x, float(median)))
        if last is not None:
            axes.plot(*zip(last, ends[0], strict=True), color=palette.quiet, lw=1.0, ls=(0, (1, 2)))
        axes.plot(*zip(*ends, strict=True), color=palette.ink, lw=1.2)
        last = ends[1]
    if what == "biomass":
        threshold_line(axes, view.threshold(seasons[0]), palette)
    axes.set_xlim(-0.6, len(seasons) - 0.4)
    counts_axis(axes.yaxis)
    room_above(axes, 0.2)
    axes.legend(loc="upper right", ncols=3, columnspacing=1.0, handletextpad=0.3, borderaxespad=0.1)


def _measure(fit: FittedCampaign, seasons: list[int]) -> tuple[str, str]:
    weighed = all(says(fit, "biomass_after", season) for season in seasons)
    return ("biomass", label("kg/ha")) if weighed else ("density", label("fish/ha"))


def describe(view: View) -> str:
    """Describe what `draw` shows."""
    sentences = []
    for lake, seasons in _lakes(view).items():
        what, unit = _measure(view.fit, seasons)
        parts = []
        for season in seasons:
            label = view.label(season)
            reason = view.withheld(season)
            if reason:
                parts.append(f"{label} withheld ({reason})")
                continue
            before, after = (
                said(view.points(f"{what}_{when}", season), unit) for when in ("before", "after")
            )
            parts.append(f"{label} from {before} to {after}")
        sentences.append(f"{lake}: {'; '.join(parts)}.")
    return " ".join(sentences)
