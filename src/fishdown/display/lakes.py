"""Tables that compare lakes."""

from __future__ import annotations

import pandas as pd

from fishdown.display.table import WITHHELD, Cell, Column, Table, interval, words
from fishdown.records.tables import rows_of
from fishdown.statements.in_units import shown_frame
from fishdown.units import label
from fishdown.words import percent_with_error

# quantity → label that fits 80 columns, and what the number is multiplied by
_WORDS = {
    "catchability_at_reference": ("Catchability, %", 100.0),
    "temperature_effect": ("Ratio, −10 °C", 1.0),
    "removed_share": ("Removed, %", 100.0),
    "mean_weight": ("Weight, kg", 1.0),
    "biomass_decrease": ("Removed, kg/ha", 1.0),
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
    chances: dict[tuple[str, str, str], str] = {}
    for row in rows_of(pairs[pairs["probability_larger"].notna()]):
        larger, error = row.probability_larger, row.mc_error
        chances[row.quantity, row.lake, row.other] = percent_with_error(larger, error)
        chances[row.quantity, row.other, row.lake] = percent_with_error(1.0 - larger, error)
    rows = []
    for name, (heading, _) in _WORDS.items():
        told = comparison[(comparison["quantity"] == name) & comparison["median"].notna()]
        lakes = told.sort_values("median", ascending=False, kind="stable")["lake"].tolist()
        if len(lakes) < 2:
            continue
        for place, (lake, following) in enumerate(zip(lakes, [*lakes[1:], ""], strict=True)):
            chance = chances.get((name, lake, following), "")
            rows.append(tuple(map(words, ("" if place else label(heading), lake, chance))))
    return Table(
        "Lakes from the largest to the smallest",
        (Column("Quantity", "whole"), Column("Lakes"), Column("Above the next?", "whole")),
        tuple(rows),
        "Probability that a lake exceeds the one in the next line; ± is the Monte-Carlo standard "
        "error. Ratio, −10 °C: catchability ratio for 10 °C of cooling.",
    )


def alone_table(comparison: pd.DataFrame) -> Table:
    """Lay out each lake's partially pooled estimates beside those of its separate fit."""
    rows = []
    comparison = shown_frame(comparison)
    for name, (heading, scale) in _WORDS.items():
        for place, row in enumerate(rows_of(comparison[comparison["quantity"] == name])):
            rows.append(
                (
                    words("" if place else label(heading)),
                    words(row.lake),
                    _cell(row.low, row.median, row.high, scale),
                    _cell(row.alone_low, row.alone_median, row.alone_high, scale),
                    words(_narrower(row.narrower)),
                )
            )
    return Table(
        "Partial pooling and separate fits: median and 90 % credible interval",
        (
            Column("Quantity", "whole"),
            Column("Lake"),
            Column("Pooled", "whole"),
            Column("Separate", "whole"),
            Column("Narrower\nby", "number"),
        ),
        tuple(rows),
        "Separate: the same model without pooling. Where pooling moves a lake far, its own records "
        "hold little information, or it differs from the other lakes.",
    )


def _narrower(share: float) -> str:
    if pd.isna(share):
        return "–"
    if abs(share) < _SAME_WIDTH:
        return "under 10 %"
    return f"{100 * share:.0f} %" if share > 0 else f"wider by\n{-100 * share:.0f} %"


def _cell(low: float, median: float, high: float, scale: float) -> Cell:
    if pd.isna(median):
        return words(WITHHELD)
    return interval(scale * low, scale * median, scale * high)
