"""What a rule with checks removes each year, beside a constant removal that does as much."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fishdown.decisions.rules_tables import RULES
from fishdown.decisions.years_words import supposed
from fishdown.figures.canvas import counts_axis, in_palette, note, panels, short
from fishdown.figures.years_ahead import YOUNG_WORDS
from fishdown.palette import LIGHT, Palette
from fishdown.statements.in_units import shown_values
from fishdown.units import label
from fishdown.words import amount, percent, with_error

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

TITLE = "A check every so many years against a constant removal"
APART = 0.24


def missing(frame: pd.DataFrame) -> str:
    """Return why there is nothing to draw."""
    return "" if len(frame) else "no rule was compared"


@in_palette
def draw(frame: pd.DataFrame, *, palette: Palette = LIGHT) -> Figure:
    """Draw what is removed each year (kg), a panel a lake and scenario.

    Means with 90 % intervals, and the probability of being below the threshold above each.

    Parameters
    ----------
    frame : DataFrame
        `fishdown.decisions.years.YearsAhead.rules_by_year`, with rows.
    """
    groups = list(shown_values(frame).groupby(["lake", "young"], sort=False))
    figure, axes = panels(len(groups), 3.3)
    for ((lake, young), rows), panel in zip(groups, axes, strict=True):
        supposed = YOUNG_WORDS[str(young)].replace("…", f"{YOUNG_WORDS['open']},")
        panel.set_title(f"{short(str(lake), 16)}: {supposed}")
        _scenario(rows, panel, palette)
        if not rows["kg_removed_high"].any():
            note(panel, "no removal is needed", palette)
    return figure


def _scenario(rows: pd.DataFrame, axes: Axes, palette: Palette) -> None:
    looks = {"checks": (palette.estimate, "o"), "constant": (palette.other, "s")}
    for place, (rule, words) in enumerate(RULES.items()):
        colour, marker = looks[rule]
        of_rule = rows[rows["rule"] == rule]
        x = of_rule["year"].to_numpy(dtype=float) + APART * (2 * place - 1)
        axes.vlines(
            x,
            of_rule["kg_removed_low"],
            of_rule["kg_removed_high"],
            color=colour,
            lw=2.6,
            alpha=0.45,
        )
        least = of_rule["probability_below"].min()
        axes.plot(
            x,
            of_rule["kg_removed_mean"],
            ls="",
            marker=marker,
            ms=5,
            color=colour,
            label=f"{words} (below threshold with {percent(least)} or more)",
        )
    axes.set_ylabel(f"{label('removed in the year, kg')}\n(mean and 90 % interval)")
    axes.set_ylim(0.0, 1.05 * float(rows["kg_removed_high"].max()) or 1.0)
    years = np.unique(rows["year"])
    axes.set_xticks(years[:: 1 + (len(years) - 1) // 8])
    axes.set_xlim(years[0] - 0.6, years[-1] + 0.6)
    axes.set_xlabel("year")
    axes.grid(visible=False, axis="x")
    counts_axis(axes.yaxis)
    axes.legend(loc="upper left", bbox_to_anchor=(0.0, -0.2), borderaxespad=0.0)


def describe(frame: pd.DataFrame) -> str:
    """Describe what `draw` shows."""
    sentences = []
    for (lake, _, rule), rows in shown_values(frame).groupby(["lake", "young", "rule"], sort=False):
        parts = [
            f"{row['year']} {with_error(row['kg_removed_mean'], row['kg_removed_mc_error'])} "
            f"{label('kg')} (90 % interval {amount(row['kg_removed_low'])} to "
            f"{amount(row['kg_removed_high'])}), {percent(row['probability_below'])} below the "
            "threshold at the end of the year"
            for _, row in rows.iterrows()
        ]
        sentences.append(
            f"{lake}, if {supposed(rows.iloc[0].to_dict())}, {RULES[str(rule)]}, removed on "
            f"average in {'; '.join(parts)}."
        )
    return " ".join(sentences)
