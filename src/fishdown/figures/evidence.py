"""Fish before netting by source of evidence: mark–recapture only, depletion only, joint."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from fishdown.figures.canvas import (
    chosen,
    counts_axis,
    in_palette,
    note,
    said,
    season_name,
    short,
    strips,
    withheld,
    withheld_note,
)
from fishdown.palette import LIGHT, Palette
from fishdown.records.tables import rows_of
from fishdown.statements.evidence import evidence
from fishdown.words import amount, percent

if TYPE_CHECKING:
    from collections.abc import Sequence

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


@in_palette
def draw(
    fit: FittedCampaign,
    *,
    seasons: Sequence[int] | None = None,
    palette: Palette = LIGHT,
    despite_gate: bool = False,
) -> Figure:
    """Draw medians and 90 % intervals of abundance (fish), a strip a season with its own axis."""
    shown = chosen(fit, seasons)
    figure, axes = strips(len(shown), HEIGHT, extra=0.35)
    for season, panel in zip(shown, axes, strict=True):
        panel.set_title(short(season_name(fit, season), 32))
        panel.set_title(
            _tail(fit, season),
            loc="right",
            fontsize=7.5,
            fontweight="normal",
            color=palette.quiet,
        )
        panel.set_ylim(2.5, -0.85)
        panel.set_yticks(range(3), list(WORDS.values()))
        panel.grid(visible=False, axis="y")
        panel.tick_params(axis="y", length=0)
        counts_axis(panel.xaxis)
        reason = withheld(fit, season, despite_gate=despite_gate)
        if reason:
            withheld_note(panel, reason, palette)
            panel.set_xticks([])
            continue
        table = _table(fit, season)
        if table["median"].isna().all():
            note(panel, "neither mark–recapture nor depletion gives an estimate here", palette)
            continue
        for place, row in enumerate(rows_of(table)):
            colour = palette.estimate if row.evidence == "both" else palette.other
            if pd.isna(row.median):
                panel.text(
                    0.01,
                    place,
                    "no estimate",
                    va="center",
                    fontsize=8,
                    color=palette.quiet,
                    transform=panel.get_yaxis_transform(),
                )
                continue
            panel.plot(
                [row.low, row.high],
                [place, place],
                color=colour,
                lw=3.2,
                solid_capstyle="butt",
                alpha=0.55,
            )
            panel.plot(
                row.median, place, "o" if row.evidence == "both" else "D", ms=5, color=colour
            )
            panel.annotate(
                amount(row.median),
                (row.median, place),
                xytext=(0, 5),
                textcoords="offset points",
                ha="center",
                va="bottom",
                fontsize=7.5,
            )
        panel.set_xlim(0.0, 1.06 * float(np.nanmax(table["high"])))
    axes[-1].set_xlabel("fish before netting (scale differs by lake)")
    return figure


def _table(fit: FittedCampaign, season: int) -> pd.DataFrame:
    kinds = len(WORDS)
    # Only of seasons that are not withheld.
    return evidence(fit, despite_gate=True).iloc[kinds * season : kinds * (season + 1)]


def _tail(fit: FittedCampaign, season: int) -> str:
    said_of = fit.disagreement(season)
    if said_of is None or np.isnan(said_of.tail_probability):
        return "no comparison"
    return f"tail probability {percent(said_of.tail_probability)}"


def describe(
    fit: FittedCampaign, *, seasons: Sequence[int] | None = None, despite_gate: bool = False
) -> str:
    """Describe what `draw` shows."""
    sentences = []
    for season in chosen(fit, seasons):
        name = season_name(fit, season)
        reason = withheld(fit, season, despite_gate=despite_gate)
        if reason:
            sentences.append(f"{name}: estimate withheld ({reason}).")
            continue
        parts = [
            f"{WORDS[row.evidence]} "
            + (
                "gives no estimate"
                if pd.isna(row.median)
                else said((row.low, row.median, row.high), "fish")
            )
            for row in rows_of(_table(fit, season))
        ]
        sentences.append(f"{name}: {'; '.join(parts)}; {_tail(fit, season)}.")
    return " ".join(sentences)
