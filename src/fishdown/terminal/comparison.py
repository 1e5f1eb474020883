"""Tables that set lakes beside each other, for the terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pandas as pd

from fishdown.records.tables import rows_of
from fishdown.terminal.tables import start_table
from fishdown.words import amount, percent_with_error

if TYPE_CHECKING:
    from rich.table import Table

# quantity → words that fit 80 columns, and what the number is multiplied by
_WORDS = {
    "catchability_at_reference": ("One pull takes, %", 100.0),
    "temperature_effect": ("10 °C colder, ×", 1.0),
    "removed_share": ("Removed, %", 100.0),
    "mean_weight": ("Weight, kg", 1.0),
    "biomass_decrease": ("Taken out, kg/ha", 1.0),
}

# Ends of intervals carry Monte-Carlo error: widths closer than this are the same.
_SAME_WIDTH = 0.1


def order_table(comparison: pd.DataFrame, pairs: pd.DataFrame) -> Table:
    """Lay out, for each quantity, the lakes from the largest to the smallest.

    Parameters
    ----------
    comparison, pairs : pandas.DataFrame
        From `Fit.comparison` and `Fit.lake_pairs`.
    """
    table = start_table(
        "Lakes from the largest to the smallest",
        "Quantity",
        "Lakes",
        "Above the next?",
        whole=("Quantity", "Above the next?"),
    )
    chances = {
        (row.quantity, row.lake, row.other): row
        for row in rows_of(pairs[pairs["probability_larger"].notna()])
    }
    for name, (words, _) in _WORDS.items():
        told = comparison[(comparison["quantity"] == name) & comparison["median"].notna()]
        lakes = told.sort_values("median", ascending=False, kind="stable")["lake"].tolist()
        if len(lakes) < 2:
            continue
        for place, lake in enumerate(lakes):
            following = lakes[place + 1] if place + 1 < len(lakes) else None
            shown = ""
            if (name, lake, following) in chances:
                row = chances[name, lake, following]
                shown = percent_with_error(row.probability_larger, row.mc_error)
            elif (name, following, lake) in chances:
                row = chances[name, following, lake]
                shown = percent_with_error(1.0 - row.probability_larger, row.mc_error)
            table.add_row(words if place == 0 else "", lake, shown)
    table.caption = (
        "How probable it is that a lake is above the one in the next line; ± is the Monte-Carlo "
        "standard error."
    )
    return table


def alone_table(comparison: pd.DataFrame) -> Table:
    """Lay out each lake as pooled beside its fit on its own."""
    table = start_table(
        "Pooled, and each lake on its own: median, and the interval that holds 90 %",
        "Quantity",
        "Lake",
        "Pooled",
        "On its own",
        "Narrower\nby",
        right=("Narrower\nby",),
        whole=("Quantity", "Pooled", "On its own"),
    )
    for name, (words, scale) in _WORDS.items():
        first = words
        for row in rows_of(comparison[comparison["quantity"] == name]):
            pooled = _interval(row.low, row.median, row.high, scale)
            alone = _interval(row.alone_low, row.alone_median, row.alone_high, scale)
            table.add_row(first, row.lake, pooled, alone, _narrower(row.narrower))
            first = ""
    table.caption = (
        "On its own: the same model without pooling. Where pooling moves a lake far, its own "
        "records say little, or it is unlike the others."
    )
    return table


def _narrower(share: float) -> str:
    if pd.isna(share):
        return "–"
    if abs(share) < _SAME_WIDTH:
        return "hardly"
    return f"{100 * share:.0f} %" if share > 0 else f"wider by\n{-100 * share:.0f} %"


def _interval(low: float, median: float, high: float, scale: float) -> str:
    if pd.isna(median):
        return "withheld"
    return f"{amount(scale * median)}\n{amount(scale * low)}–{amount(scale * high)}"
