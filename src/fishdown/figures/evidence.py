"""Fish before netting by source of evidence: mark–recapture only, depletion only, joint."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from fishdown.figures.canvas import (
    View,
    beside,
    counts_axis,
    in_row,
    interval_row,
    names_axis,
    note,
    remark,
    said,
    short,
    strips,
    withheld_note,
)
from fishdown.records.tables import rows_of
from fishdown.statements.evidence import evidence
from fishdown.words import amount, percent

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from fishdown.posterior.fitted import FittedCampaign

TITLE = "Mark–recapture, depletion and joint estimates"
WORDS = {"marks": "mark–recapture only", "depletion": "depletion only", "both": "joint"}
HEIGHT = 1.3


def missing(fit: FittedCampaign) -> str:
    """Return why there is nothing to draw."""
    if "evidence" not in fit.tree.children:
        return "mark–recapture and depletion were not compared in this fit"
    return ""


def shown(view: View) -> list[int]:
    """Return the seasons that have a strip."""
    return view.seasons


def draw(view: View) -> Figure:
    """Draw medians and 90 % intervals of abundance (fish), a strip a season with its own axis."""
    palette = view.palette
    tables = _tables(view.fit)
    figure, axes = strips(len(view.seasons), HEIGHT, extra=0.35)
    for season, panel in zip(view.seasons, axes, strict=True):
        panel.set_title(short(view.name(season), 32))
        remark(panel, _tail(view, season), palette.quiet)
        names_axis(panel, list(WORDS.values()))
        panel.set_ylim(2.5, -0.85)
        panel.grid(visible=False, axis="y")
        counts_axis(panel.xaxis)
        reason = view.withheld(season)
        if reason:
            withheld_note(panel, reason, palette)
            panel.set_xticks([])
            continue
        table = tables[season]
        if table["median"].isna().all():
            note(panel, "neither mark–recapture nor depletion gives an estimate here", palette)
            continue
        for place, row in enumerate(rows_of(table)):
            colour = palette.estimate if row.evidence == "both" else palette.other
            if pd.isna(row.median):
                in_row(panel, place, "no estimate", fontsize=8, color=palette.quiet)
                continue
            points = (row.low, row.median, row.high)
            interval_row(panel, points, place, colour, "o" if row.evidence == "both" else "D")
            at = (row.median, place)
            beside(panel, amount(row.median), at, (0, 5), ha="center", va="bottom")
        panel.set_xlim(0.0, 1.06 * float(np.nanmax(table["high"])))
    axes[-1].set_xlabel("fish before netting (scale differs by lake)")
    return figure


def _tables(fit: FittedCampaign) -> list[pd.DataFrame]:
    """Return the table of each season, those too that are withheld."""
    kinds, whole = len(WORDS), evidence(fit, despite_gate=True)
    return [whole.iloc[kinds * season : kinds * (season + 1)] for season in range(fit.season_count)]


def _tail(view: View, season: int) -> str:
    said_of = view.fit.disagreement(season)
    if said_of is None or np.isnan(said_of.tail_probability):
        return "no comparison"
    return f"tail probability {percent(said_of.tail_probability)}"


def describe(view: View) -> str:
    """Describe what `draw` shows."""
    tables = _tables(view.fit)
    return view.told(view.seasons, lambda season: _sentence(view, season, tables[season]))


def _sentence(view: View, season: int, table: pd.DataFrame) -> str:
    parts = [
        f"{WORDS[row.evidence]} "
        + (
            "gives no estimate"
            if pd.isna(row.median)
            else said((row.low, row.median, row.high), "fish")
        )
        for row in rows_of(table)
    ]
    return f"{'; '.join(parts)}; {_tail(view, season)}"
