"""Designs of a season: precision and probability of a firm verdict against cost."""

from __future__ import annotations

from textwrap import wrap
from typing import TYPE_CHECKING

import numpy as np
from matplotlib.ticker import FixedLocator, FuncFormatter, NullLocator

from fishdown.decisions.plan_words import campaigns_each, evidence
from fishdown.figures.canvas import DASHED, counts_axis, in_palette, strips
from fishdown.palette import LIGHT, Palette
from fishdown.words import amount, counted, percent, percent_with_error

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from fishdown.decisions.plan import PlannedSeason

TITLE = "Designs of a season"
HEIGHT = 2.8
# Numbers of fish marked have a shape each; where there are more of them, all share one.
SHAPES = ("o", "s", "^", "D", "v", "P")
WIDTHS = (1, 2, 3, 5, 7, 10, 15, 20, 30, 50, 70, 100, 150, 200, 300, 500, 700, 1000, 2000, 5000)
MOST_WIDTHS = 8
FILLED = {"met": "full", "open": "half", "missed": "none"}
SAID = {"met": "meets", "open": "may meet", "missed": "misses"}
# Titles of up to fifty letters have to fit.
_TITLE_SIZE = 8.5


@in_palette
def draw(planned: PlannedSeason, *, palette: Palette = LIGHT) -> Figure:
    """Draw half-width of the interval (%) and chance of a right and firm verdict (%) by cost.

    Filled designs meet the target, half-filled ones cannot be told, and the cheapest that meets
    it is ringed. Without costs, by the number of pulls.
    """
    figure, (upper, lower) = strips(2, HEIGHT, extra=0.9, sharex=True)
    frame, plan = planned.frame, planned.plan
    _designs(frame, upper, palette, "half_width_median", ("half_width_low", "half_width_high"))
    upper.set_title(
        f"{counted(len(frame), 'design')}; bars: nine campaigns in ten", fontsize=_TITLE_SIZE
    )
    lower.set_title(
        f"{campaigns_each(frame)} each;\nbars: ± 2 standard errors",
        fontsize=_TITLE_SIZE,
    )
    upper.set_ylabel("half-width of the 90 % interval\nof abundance, % of its median")
    upper.set_yscale("log")
    _target(upper, plan.half_width, palette)
    _width_axis(upper)
    firm = frame.assign(
        low=np.maximum(frame["right_and_firm"] - 2.0 * frame["right_and_firm_error"], 0.0),
        high=np.minimum(frame["right_and_firm"] + 2.0 * frame["right_and_firm_error"], 1.0),
    )
    _designs(firm, lower, palette, "right_and_firm", ("low", "high"))
    lower.plot(
        _across(firm)[0],
        100.0 * firm["wrong_and_firm"],
        ls="none",
        marker="x",
        ms=4.5,
        color=palette.other,
        label="firm, but wrong",
    )
    lower.set_ylabel("right and firm\nverdict, % of campaigns")
    # So that a mark at either end is seen whole.
    lower.set_ylim(-4.0, 104.0)
    _target(lower, plan.right_and_firm, palette)
    counts_axis(lower.yaxis)
    lower.set_xlabel(_across(frame)[1])
    counts_axis(lower.xaxis)
    lower.margins(x=0.08)
    _legend(lower)
    return figure


def _across(frame: pd.DataFrame) -> tuple[pd.Series, str]:
    """Return what designs are set apart by, and its label."""
    if not (frame["cost"] > 0).any():
        return frame["pulls"], "pulls"
    currency = str(frame["currency"].iloc[0])
    return frame["cost"], f"cost, {currency}" if currency else "cost"


def _designs(
    frame: pd.DataFrame, axes: Axes, palette: Palette, middle: str, ends: tuple[str, str]
) -> None:
    across = _across(frame)[0]
    low, high = (100.0 * frame[end].to_numpy() for end in ends)
    axes.vlines(across, low, high, color=palette.estimate, lw=1.8, alpha=0.35)
    numbers = sorted(frame["marked"].unique())
    shapes = SHAPES if len(numbers) <= len(SHAPES) else SHAPES[:1] * len(numbers)
    for marked, shape in zip(numbers, shapes, strict=False):
        own = frame["marked"] == marked
        for target, filled in FILLED.items():
            shown = own & (frame["target"] == target)
            axes.plot(
                across[shown],
                100.0 * frame.loc[shown, middle],
                ls="none",
                marker=shape,
                ms=5,
                color=palette.estimate,
                mfc=palette.estimate if filled != "none" else palette.paper,
                mfcalt=palette.paper,
                fillstyle="bottom" if filled == "half" else "full",
            )
        if shapes[0] != shapes[-1] or len(numbers) == 1:
            words = f"{marked:,} fish marked"
            axes.plot([], ls="none", marker=shape, ms=5, color=palette.estimate, label=words)
    axes.plot(
        [], ls="none", marker="o", ms=5, color=palette.quiet, label="filled: meets the target"
    )
    if (frame["target"] == "open").any():
        axes.plot(
            [],
            ls="none",
            marker="o",
            ms=5,
            color=palette.quiet,
            mfcalt=palette.paper,
            fillstyle="bottom",
            label="half filled: undecided",
        )
    alike = frame["like_cheapest"]
    if alike.any():
        axes.plot(
            across[alike],
            100.0 * frame.loc[alike, middle],
            ls="none",
            marker="o",
            ms=10,
            color=palette.quiet,
            mfc="none",
            mew=0.8,
            label="as good within simulation error",
        )
    best = frame["cheapest"]
    axes.plot(
        across[best],
        100.0 * frame.loc[best, middle],
        ls="none",
        marker="o",
        ms=12,
        color=palette.ink,
        mfc="none",
        mew=1.3,
    )
    if best.any():
        row = frame[best].iloc[0]
        words = f"cheapest: {row['marked']:,} fish, {row['nets']} nets, {row['rounds']} days"
        if evidence(row):
            words = "\n".join([f"{words},", *wrap(evidence(row), len(words))])
        axes.plot([], ls="none", marker="o", ms=9, color=palette.ink, mfc="none", label=words)


def _target(axes: Axes, wanted: float | None, palette: Palette) -> None:
    if wanted is not None:
        axes.axhline(100.0 * wanted, color=palette.threshold, **DASHED)
    # In both panels or neither, so that the one legend below tells it.
    axes.plot([], color=palette.threshold, **DASHED, label="target")


def _width_axis(axes: Axes) -> None:
    low, high = axes.get_ylim()
    ticks = [width for width in WIDTHS if low <= width <= high]
    axes.yaxis.set_major_locator(FixedLocator(ticks[:: 1 + len(ticks) // (MOST_WIDTHS + 1)]))
    axes.yaxis.set_minor_locator(NullLocator())
    axes.yaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:,.10g}"))


def _legend(axes: Axes) -> None:
    axes.legend(
        loc="upper left",
        bbox_to_anchor=(-0.14, -0.3),
        ncols=2,
        columnspacing=0.8,
        handlelength=1.6,
        fontsize=7.5,
        borderaxespad=0.0,
    )


def describe(planned: PlannedSeason) -> str:
    """Describe what `draw` shows."""
    sentences = []
    for _, row in planned.frame.iterrows():
        width, low, high = (
            amount(100.0 * row[f"half_width_{point}"]) for point in ("median", "low", "high")
        )
        cost = f", {row.cost:,.0f} {row.currency}".rstrip() if row.cost > 0 else ""
        target = "the cheapest that meets" if row.cheapest else SAID[row.target]
        firm = percent_with_error(row.right_and_firm, row.right_and_firm_error)
        more = f", {evidence(row)}" if evidence(row) else ""
        alike = ", as good within simulation error as the cheapest" if row.like_cheapest else ""
        sentences.append(
            f"{row.marked:,} fish marked{more}, {row.nets} nets on {row.rounds} days{cost}: "
            f"half-width {width} % of the median ({low} to {high} % in nine campaigns of ten), "
            f"right and firm in {firm}, firm but wrong in {percent(row.wrong_and_firm)} "
            f"({counted(row.campaigns, 'campaign')}); {target} the target{alike}."
        )
    return " ".join(sentences)
