"""The years ahead of each lake under every scenario, against the threshold."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fishdown.decisions.years_words import YOUNG, supposed, taken
from fishdown.figures.canvas import (
    counts_axis,
    in_palette,
    note,
    panels,
    said,
    short,
    threshold_line,
)
from fishdown.palette import LIGHT, Palette
from fishdown.statements.in_units import shown_values
from fishdown.units import label
from fishdown.words import amount, percent

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

TITLE = "Years ahead"
# Scenarios differ in line and marker too, and are drawn side by side within a year.
APART = 0.2
# Intervals that rest on a prior may be a hundred times the median; the axis ends at this many
# times the threshold or the largest median.
TALLEST = 2.5


def missing(frame: pd.DataFrame) -> str:
    """Return why there is nothing to draw."""
    return "" if frame["fish_median"].notna().any() else "every lake is withheld"


@in_palette
def draw(frame: pd.DataFrame, *, palette: Palette = LIGHT) -> Figure:
    """Draw biomass density (kg/ha; fish without weights) at the end of each year, a panel a lake.

    Medians with 90 % intervals by scenario, from the end of the last season on.
    """
    frame = shown_values(frame)
    lakes = frame["lake"].unique()
    figure, axes = panels(len(lakes), 3.7)
    for lake, panel in zip(lakes, axes, strict=True):
        panel.set_title(short(str(lake)))
        shown = frame[frame["lake"] == lake]
        if missing(shown):
            note(panel, str(shown["statement"].iloc[0]), palette)
            panel.set_xticks([])
            panel.set_yticks([])
            continue
        _lake(shown, panel, palette)
    return figure


def _lake(shown: pd.DataFrame, axes: Axes, palette: Palette) -> None:
    low, median, high, unit = _columns(shown)
    axes.set_ylabel(label("biomass density, kg/ha" if unit == "kg/ha" else "fish in the lake"))
    looks = {
        "eaten": (palette.estimate, "o", "-"),
        "open": (palette.other, "s", (0, (4, 1.5))),
        "strong-year": (palette.quiet, "^", (0, (1, 1.2))),
        "strong-years": (palette.ink, "D", (0, (3, 1, 1, 1))),
    }
    scenarios = [young for young in YOUNG if young in set(shown["young"])]
    for place, young in enumerate(scenarios):
        colour, marker, line = looks[young]
        rows = shown[shown["young"] == young]
        side = APART * (place - 0.5 * (len(scenarios) - 1)) * (rows["years_ahead"] > 0)
        x = (rows["year"] + side).to_numpy(dtype=float)
        axes.vlines(x, rows[low], rows[high], color=colour, lw=2.6, alpha=0.45)
        axes.plot(
            x,
            rows[median],
            marker=marker,
            ms=4,
            color=colour,
            ls=line,
            lw=1.2,
            label=YOUNG_WORDS[young],
        )
    top = float(shown[median].max())
    if unit == "kg/ha":
        threshold = float(shown["threshold_kg_per_ha"].iloc[0])
        top = max(top, threshold)
        threshold_line(axes, threshold, palette)
    highest, tallest = float(shown[high].max()), TALLEST * top
    cut = ""
    if highest > tallest:
        cut = f"\n90 % intervals cut off here reach {amount(highest)} {label(unit)}"
    axes.set_ylim(0.0, 1.05 * (tallest if cut else highest) or 1.0)
    axes.set_xlabel(f"end of the year; {taken(shown.iloc[0].to_dict())}{cut}")
    years = np.unique(shown["year"])
    axes.set_xticks(years[:: 1 + (len(years) - 1) // 8])
    axes.set_xlim(years[0] - 0.6, years[-1] + 0.6)
    axes.grid(visible=False, axis="x")
    counts_axis(axes.yaxis)
    # Below the panel, since tall intervals would run into it anywhere else.
    axes.legend(
        loc="upper left",
        bbox_to_anchor=(0.0, -0.26),
        ncols=2,
        columnspacing=1.0,
        handlelength=2.4,
        borderaxespad=0.0,
    )


# Scenario → its name in a figure.
YOUNG_WORDS = {
    "eaten": "young eaten",
    "open": "young not eaten",
    "strong-year": "… strong year class",
    "strong-years": "… strong years at random",
}


def _columns(shown: pd.DataFrame) -> tuple[str, str, str, str]:
    if shown["biomass_median_kg_per_ha"].notna().all():
        points = (f"biomass_{point}_kg_per_ha" for point in ("low", "median", "high"))
        return (*points, "kg/ha")  # type: ignore[return-value]
    return "fish_low", "fish_median", "fish_high", "fish"


def describe(frame: pd.DataFrame) -> str:
    """Describe what `draw` shows."""
    sentences = []
    frame = shown_values(frame)
    for (lake, _), rows in frame.groupby(["lake", "young"], sort=False):
        if missing(rows):
            sentences.append(str(rows["statement"].iloc[0]))
            continue
        low, median, high, unit = _columns(rows)
        parts = []
        for _, row in rows.iterrows():
            part = f"{row['year']} {said((row[low], row[median], row[high]), label(unit))}"
            if unit == "kg/ha":
                part += f", {percent(row['probability_below'])} below the threshold"
            parts.append(part)
        first = rows.iloc[0].to_dict()
        sentences.append(
            f"{lake}, if {supposed(first)} and {taken(first)}, at the end of {'; '.join(parts)}."
        )
    return " ".join(dict.fromkeys(sentences))
