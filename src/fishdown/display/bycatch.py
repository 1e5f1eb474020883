"""The tables of the bycatch: by species, by month and mesh, and against limits."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pandas as pd

from fishdown.display.table import (
    ABSENT,
    PLACE,
    Cell,
    Column,
    Table,
    tenths,
    two_digits,
    whole,
    words,
)
from fishdown.records.tables import ALL

if TYPE_CHECKING:
    from fishdown.display.table import Source

_NOT_RECORDED = "not recorded"


def bycatch_table(bycatch: Source) -> Table:
    """Lay out the bycatch by species."""
    rows = []
    never = bool((bycatch.frame["count"] == 0).any())
    for row in range(len(bycatch.frame)):
        share = tuple(f"share_{end}" for end in ("median", "low", "high"))
        dead = tuple(f"dead_share_{end}" for end in ("median", "low", "high"))
        seen = bool(bycatch.frame["count"].iloc[row])
        not_recorded = _NOT_RECORDED if seen else ABSENT
        rows.append(
            (
                *bycatch.place(row),
                bycatch.words(row, "species"),
                bycatch.cell(row, "count", show=whole),
                bycatch.cell(row, "pulls", show=whole),
                _rate(bycatch, row),
                bycatch.cell(row, share, show=two_digits, times=100.0),
                bycatch.cell(row, "dead", show=whole, absent=not_recorded),
                bycatch.cell(row, "dead_empty", show=whole, absent="all" if seen else ABSENT),
                bycatch.cell(row, dead, show=tenths, times=100.0, absent=not_recorded),
            )
        )
    return Table(
        "Bycatch as counted; fish per pull, share of all fish caught, and dead fish in % of those "
        "counted: median and 90 % interval",
        (
            *PLACE,
            Column("Species"),
            Column("Counted", "number"),
            Column("Counted pulls", "number", roomy=True),
            Column("Fish\nper pull", "number"),
            Column("Of all\nfish, %", "number"),
            Column("Dead", "number"),
            Column("Rows without entry", "number", roomy=True),
            Column("Dead, %", "number"),
        ),
        tuple(rows),
        "Counted pulls: pulls that were not void and whose bycatch was counted. Lakes share "
        "information (partial pooling). A row without an entry of dead fish counts as none dead if "
        "another row of the season has an entry."
        + (" At most: upper 95 % bound of a species that was never counted." if never else ""),
        heads=3,
    )


def _rate(bycatch: Source, row: int) -> Cell:
    """Return fish a pull; of a species that was never counted the upper bound."""
    if pd.isna(bycatch.frame["per_pull_high"].iloc[row]):
        return words(ABSENT)
    if pd.isna(bycatch.frame["per_pull_median"].iloc[row]):
        return Cell((("at most ",), (bycatch.number(row, "per_pull_high", two_digits),)))
    rate = tuple(f"per_pull_{end}" for end in ("median", "low", "high"))
    return bycatch.cell(row, rate, show=two_digits)


def effects_table(effects: Source) -> Table:
    """Lay out how rates differ between months, and with the mesh."""
    frame = effects.frame
    levels = list(dict.fromkeys(frame["level"]))
    keys = zip(frame["species"], frame["level"], strict=True)
    row_of = {key: row for row, key in enumerate(keys)}
    ratio = tuple(f"ratio_{end}" for end in ("median", "low", "high"))
    rows = tuple(
        (
            words(species),
            *(
                effects.cell(row_of[species, level], ratio)
                if (species, level) in row_of
                else words(ABSENT)
                for level in levels
            ),
        )
        for species in dict.fromkeys(frame["species"])
    )
    return Table(
        "Fish per pull by month and mesh, as a ratio: median and 90 % interval",
        (Column("Species"), *(Column(level, "number") for level in levels)),
        rows,
        "Months: ratio to the average month with pulls.",
        heads=1,
    )


def limits_table(limits: Source) -> Table:
    """Lay out the bycatch beside its limits."""
    ahead = bool((limits.frame["pulls_to_come"] > 0).any())
    outlook = (
        (
            Column("Pulls to come", "number", roomy=True),
            Column("Season's\ntotal", "number"),
            Column("Above the\nlimit?", "number"),
        )
        if ahead
        else (Column("Limit", "whole"),)
    )
    rows = tuple(
        (
            *limits.place(row),
            words(_species(str(limits.frame["species"].iloc[row]))),
            _limit(limits, row),
            limits.cell(row, "counted", show=whole, absent=_NOT_RECORDED),
            *(_outlook(limits, row) if ahead else (limits.words(row, "state"),)),
        )
        for row in range(len(limits.frame))
    )
    return Table(
        "Bycatch against its limits" + (": median and 90 % interval" if ahead else ""),
        (
            *PLACE,
            Column("Species"),
            Column("Fish allowed\nin the season", "number"),
            Column("Counted", "number"),
            *outlook,
        ),
        rows,
        "± is the standard error of the computation." if ahead else "",
        heads=3,
    )


def _limit(limits: Source, row: int) -> Cell:
    dead = " dead" if limits.frame["fish"].iloc[row] == "dead" else ""
    return Cell(((limits.number(row, "limit", whole), dead),))


def _outlook(limits: Source, row: int) -> tuple[Cell, ...]:
    exceeded = limits.frame["state"].iloc[row] == "exceeded"
    total = tuple(f"total_{end}" for end in ("median", "low", "high"))
    return (
        limits.cell(row, "pulls_to_come", show=whole),
        limits.cell(row, total, show=whole),
        limits.chance(row, column="probability_above", absent="exceeded" if exceeded else ABSENT),
    )


def _species(name: str) -> str:
    return "all species" if name == ALL else name
