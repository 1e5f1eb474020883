"""Bycatch by species: fish per pull, with its interval, and how many of them were dead."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pandas as pd

from fishdown.figures.canvas import (
    PANEL_WIDTH,
    counts_axis,
    in_palette,
    netted,
    note,
    said,
    season_name,
    short,
)
from fishdown.palette import LIGHT, Palette
from fishdown.records.tables import rows_of
from fishdown.statements.bycatch import bycatch, species_of
from fishdown.words import counted

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.figure import Figure

    from fishdown.posterior.fitted import FittedCampaign

TITLE = "Bycatch by species"
ROW = 0.3


def missing(fit: FittedCampaign) -> str:
    """Return why there is nothing to draw."""
    return "" if len(bycatch(fit.campaign)) else "no bycatch is on record"


@in_palette
def draw(
    fit: FittedCampaign,
    *,
    seasons: Sequence[int] | None = None,
    palette: Palette = LIGHT,
    despite_gate: bool = False,
) -> Figure:
    """Draw mean bycatch (fish per pull) by species with its 90 % interval, a strip a season."""
    from matplotlib.figure import Figure

    shown = netted(fit, seasons)
    tables = [_table(fit, season) for season in shown]
    heights = [max(len(table), 1) * ROW + 0.55 for table in tables]
    figure = Figure(figsize=(PANEL_WIDTH, sum(heights) + 0.3), layout="constrained")
    axes = figure.subplots(len(shown), 1, squeeze=False, sharex=True, height_ratios=heights)[:, 0]
    right = max((float(table["per_pull_high"].max()) for table in tables if len(table)), default=1)
    for season, table, panel in zip(shown, tables, axes, strict=True):
        panel.set_title(short(season_name(fit, season)))
        panel.grid(visible=False, axis="y")
        panel.tick_params(axis="y", length=0)
        panel.set_yticks(range(len(table)), [short(name, 24) for name in table["species"]])
        panel.set_ylim(max(len(table), 1) - 0.4, -0.6)
        panel.set_xlim(0.0, 1.8 * right)
        if not len(table):
            panel.set_yticks([])
            note(panel, "no bycatch is on record", palette)
        for place, row in enumerate(rows_of(table)):
            panel.plot(
                [row.per_pull_low, row.per_pull_high],
                [place, place],
                color=palette.estimate,
                lw=3.2,
                alpha=0.55,
                solid_capstyle="butt",
            )
            panel.plot(row.per_pull_median, place, "o", ms=5, color=palette.estimate)
            dead = ", dead not recorded" if pd.isna(row.dead) else f", {row.dead:,.0f} dead"
            panel.text(
                0.995,
                place,
                f"{row.count:,.0f} counted{dead}",
                transform=panel.get_yaxis_transform(),
                ha="right",
                va="center",
                fontsize=7.5,
                color=palette.ink,
                bbox={"facecolor": palette.paper, "edgecolor": "none", "pad": 0.6},
            )
    counts_axis(axes[-1].xaxis)
    axes[-1].set_xlabel("bycatch, fish per pull")
    return figure


def _table(fit: FittedCampaign, season: int) -> pd.DataFrame:
    table = bycatch(fit.campaign)
    stay = fit.campaign.seasons.isel(season=season)
    mine = (table["lake"] == str(stay["lake"].values)) & (
        table["season"] == str(stay["label"].values)
    )
    order = {name: place for place, name in enumerate(species_of(table))}
    return table[mine].sort_values("species", key=lambda names: names.map(order))


def describe(
    fit: FittedCampaign, *, seasons: Sequence[int] | None = None, despite_gate: bool = False
) -> str:
    """Describe what `draw` shows."""
    sentences = []
    for season in netted(fit, seasons):
        name, table = season_name(fit, season), _table(fit, season)
        if not len(table):
            sentences.append(f"{name}: no bycatch is on record.")
            continue
        parts = []
        for row in rows_of(table):
            interval = said(
                (row.per_pull_low, row.per_pull_median, row.per_pull_high), "fish per pull"
            )
            dead = ", dead not recorded" if pd.isna(row.dead) else f", {row.dead:,.0f} of them dead"
            parts.append(
                f"{row.species} {counted(int(row.count), 'fish', 'fish')}{dead}, {interval}"
            )
        sentences.append(f"{name}: {'; '.join(parts)}.")
    return " ".join(sentences)
