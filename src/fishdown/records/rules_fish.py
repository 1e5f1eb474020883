"""Rules on single fish: measured at all, in the right units; bycatch that adds up."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fishdown.records.problems import counted, listed_rows
from fishdown.records.tables import rows_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    import pandas as pd

    from fishdown.records.draft import Draft
    from fishdown.records.problems import Problem

# Weight over length cubed, 1e5 · W[g] / L[mm]³, is near 1 for most fishes and 1.2–1.8 for
# common carp (condition factor in Fulton's form; values from memory). Grams for kilograms, or
# centimetres for millimetres, both multiply it by 1,000, far outside this wide range.
_CONDITION_LOW, _CONDITION_HIGH = 0.1, 10.0
_CONDITION_OFF_MEDIAN = 30.0
_USUAL_CONDITION = 1.4
_WEIGHT_OFF_MEDIAN = 100.0
_HEAVIEST_KG = 150.0
_ENOUGH_FOR_MEDIAN = 5


def fish_not_measured(draft: Draft) -> Iterator[Problem]:
    """Find measured fish with neither length nor weight."""
    text = draft.source.texts.get("measured")
    if text is None:
        return
    empty = [""] * len(text.rows)
    lengths = text.cells.get("length_mm", empty)
    weights = text.cells.get("weight_kg", empty)
    if lengths is empty and weights is empty:
        wrong, mend = "no column length_mm and no column weight_kg", "add at least one of them"
        yield draft.problem("measured", text.header_row, None, wrong, mend)
        return
    for row, length, weight in zip(text.rows, lengths, weights, strict=True):
        if not length and not weight:
            wrong, mend = "neither length nor weight", "write one of them, or delete the row"
            yield draft.problem("measured", row, None, wrong, mend)


def weights_in_other_units(draft: Draft) -> Iterator[Problem]:
    """Find weights far off their length, or off all other weights of the lake."""
    heavy, off = _weighed(draft), weights_off(draft)
    if len(off) >= _ENOUGH_FOR_MEDIAN and len(off) > len(heavy) / 2:
        wrong = (
            f"{len(off):,} of {counted(len(heavy), 'weight')} cannot be kilograms of fish of "
            f"their lengths in millimetres ({listed_rows(list(off))})"
        )
        mend = "write weights in kilograms and lengths in millimetres"
        yield draft.problem("measured", None, "weight_kg", wrong, mend)
        return
    for row, wrong in off.items():
        mend = "write the weight in kilograms and the length in millimetres"
        yield draft.problem("measured", row, "weight_kg", wrong, mend)


def weights_off(draft: Draft) -> dict[int, str]:
    """Return the row of each weight that no fish can have, and what is wrong with it."""
    heavy = _weighed(draft)
    return dict([*_off_length(heavy), *_off_lake(heavy)])


def dead_above_count(draft: Draft) -> Iterator[Problem]:
    """Find bycatch of which more is dead than was caught."""
    bycatch = draft.frames["bycatch"]
    for catch in rows_of(bycatch[bycatch["dead"] > bycatch["count"]]):
        wrong = f"more dead fish than the {catch.count:.0f} counted"
        mend = "correct one of the two; count holds the dead fish too"
        yield draft.problem("bycatch", catch.row, "dead", wrong, mend)


def _weighed(draft: Draft) -> pd.DataFrame:
    fish = draft.frames["measured"]
    return fish[fish["weight_kg"].notna()]


def _off_length(heavy: pd.DataFrame) -> Iterator[tuple[int, str]]:
    """Yield the row of each weight that does not fit its length, and what is wrong."""
    both = heavy[heavy["length_mm"].notna()]
    condition = 1e8 * both["weight_kg"] / both["length_mm"] ** 3
    plausible = condition[condition.between(_CONDITION_LOW, _CONDITION_HIGH)]
    known = len(plausible) >= _ENOUGH_FOR_MEDIAN
    usual = float(plausible.median()) if known else _USUAL_CONDITION
    for fish, value in zip(rows_of(both), condition.tolist(), strict=True):
        ratio = value / usual
        off = not _CONDITION_LOW <= value <= _CONDITION_HIGH
        if known:
            off = off or not 1 / _CONDITION_OFF_MEDIAN <= ratio <= _CONDITION_OFF_MEDIAN
        if off and ratio > 1:
            yield (
                fish.row,
                f"about {_roughly(ratio)} times too heavy for its length of "
                f"{fish.length_mm:g} mm (weight in grams, or length in centimetres?)",
            )
        elif off:
            yield (
                fish.row,
                f"about {_roughly(1 / ratio)} times too light for its length of "
                f"{fish.length_mm:g} mm",
            )


def _off_lake(heavy: pd.DataFrame) -> Iterator[tuple[int, str]]:
    """Yield the row of each weight without a length that no fish has, and what is wrong."""
    for lake, group in heavy.groupby("lake", sort=False):
        usual = float(group["weight_kg"].median())
        known = len(group) >= _ENOUGH_FOR_MEDIAN
        for fish in rows_of(group[group["length_mm"].isna()]):
            if fish.weight_kg > _HEAVIEST_KG:
                yield fish.row, "heavier than any such fish (weight in grams?)"
            elif known and fish.weight_kg > usual * _WEIGHT_OFF_MEDIAN:
                wrong = f"over 100 times the usual weight in {lake}, {usual:.3g} kg"
                yield fish.row, f"{wrong} (weight in grams?)"
            elif known and fish.weight_kg < usual / _WEIGHT_OFF_MEDIAN:
                yield fish.row, f"under a hundredth of the usual weight in {lake}, {usual:.3g} kg"


def _roughly(factor: float) -> str:
    return f"{float(f'{factor:.1g}'):,.0f}"
