"""The priors of a model, and what they imply for lakes."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fishdown.display.table import Column, Table, words
from fishdown.intervals import INTERVAL
from fishdown.models.spec import in_shown_unit, meaning
from fishdown.records.tables import rows_of
from fishdown.units import label, shown
from fishdown.words import amount

if TYPE_CHECKING:
    import pandas as pd

    from fishdown.models.spec import ModelSpec

_NUMBERS = (Column("Median", "number"), Column("90 % interval", "number"))


def priors_table(spec: ModelSpec) -> Table:
    """Lay out the priors of a model in words and numbers."""
    rows = []
    for name, prior in spec.priors.items():
        points = np.array([prior.quantile(np.array([0.5]))[0], *prior.interval(INTERVAL)])
        median, low, high = in_shown_unit(name, points)
        numbers = (amount(median), f"{amount(low)}–{amount(high)}")
        rows.append(tuple(words(text) for text in (name, label(meaning(name)), *numbers)))
    return Table(
        f"Priors of {spec.name}: median and 90 % interval",
        (Column("Parameter"), Column("Meaning"), *_NUMBERS),
        tuple(rows),
        heads=1,
    )


def implied_table(implied: pd.DataFrame) -> Table:
    """Lay out what the priors imply for each lake; see `fishdown.models.implied.implied`."""
    rows = tuple(
        tuple(
            words(text)
            for text in (
                row.lake,
                label(row.quantity),
                f"{amount(shown(row.median, row.unit))} {label(row.unit)}",
                f"{amount(shown(row.low, row.unit))}–{amount(shown(row.high, row.unit))}",
            )
        )
        for row in rows_of(implied)
    )
    return Table(
        "Implied by these priors, before any catch is used",
        (Column("Lake"), Column("Quantity"), *_NUMBERS),
        rows,
    )
