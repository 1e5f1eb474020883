"""Bycatch by species: fish per pull, with its interval, and how many of them were dead."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pandas as pd

from fishdown.figures.canvas import (
    View,
    counts_axis,
    interval_row,
    names_axis,
    note,
    paper_box,
    said,
    short,
    uneven_strips,
)
from fishdown.records.tables import rows_of
from fishdown.statements.bycatch import by_species, species_of
from fishdown.words import counted

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.figure import Figure

    from fishdown.posterior.fitted import FittedCampaign

TITLE = "Bycatch by species"
ROW = 0.3


def missing(fit: FittedCampaign) -> str:
    """Return why there is nothing to draw."""
    return "" if fit.campaign.bycatch.sizes.get("bycatch") else "no bycatch is on record"


def shown(view: View) -> list[int]:
    """Return the seasons that have a strip."""
    return view.netted


def draw(view: View) -> Figure:
    """Draw mean bycatch (fish per pull) by species with its 90 % interval, a strip a season."""
    palette = view.palette
    tables = _tables(view.fit, view.netted)
    heights = [max(len(table), 1) * ROW + 0.55 for table in tables]
    figure, axes = uneven_strips(heights, sharex=True)
    highest = pd.concat([table["per_pull_high"].dropna() for table in tables])
    right = float(highest.max()) if len(highest) else 1.0
    for season, table, panel in zip(view.netted, tables, axes, strict=True):
        panel.set_title(short(view.name(season)))
        panel.grid(visible=False, axis="y")
        names_axis(panel, [short(name, 24) for name in table["species"]])
        panel.set_xlim(0.0, 1.8 * right)
        if not len(table):
            panel.set_yticks([])
            note(panel, "no bycatch is on record", palette)
        for place, row in enumerate(rows_of(table)):
            if not pd.isna(row.per_pull_median):
                interval_row(panel, _per_pull(row), place, palette.estimate)
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
                bbox=paper_box(palette, pad=0.6),
            )
    counts_axis(axes[-1].xaxis)
    axes[-1].set_xlabel("bycatch, fish per pull")
    return figure


def _tables(fit: FittedCampaign, seasons: Sequence[int]) -> list[pd.DataFrame]:
    """Return the bycatch of each season, its species in the order of all seasons."""
    table = by_species(fit.bycatch_estimates)
    order = {name: place for place, name in enumerate(species_of(table))}
    table = table.sort_values("species", key=lambda names: names.map(order), kind="stable")
    of_season = dict(iter(table.groupby(["lake", "season"], sort=False)))
    stays = fit.campaign.seasons
    keys = list(zip(stays["lake"].values.tolist(), stays["label"].values.tolist(), strict=True))
    return [of_season.get(keys[season], table.iloc[:0]) for season in seasons]


def _per_pull(row: Any) -> tuple[float, float, float]:
    return row.per_pull_low, row.per_pull_median, row.per_pull_high


def describe(view: View) -> str:
    """Describe what `draw` shows."""
    sentences = []
    for season, table in zip(view.netted, _tables(view.fit, view.netted), strict=True):
        name = view.name(season)
        if not len(table):
            sentences.append(f"{name}: no bycatch is on record.")
            continue
        parts = []
        for row in rows_of(table):
            interval = said(_per_pull(row), "fish per pull")
            if pd.isna(row.per_pull_median):
                interval = "fish per pull not known"
            dead = ", dead not recorded" if pd.isna(row.dead) else f", {row.dead:,.0f} of them dead"
            parts.append(
                f"{row.species} {counted(int(row.count), 'fish', 'fish')}{dead}, {interval}"
            )
        sentences.append(f"{name}: {'; '.join(parts)}.")
    return " ".join(sentences)
