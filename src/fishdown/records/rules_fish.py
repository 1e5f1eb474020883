"""Rules on single fish: measured at all, in the right units."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from fishdown.records.codes import Wrong
from fishdown.records.tables import rows_of
from fishdown.units import three_digits

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
        yield draft.problem(Wrong.NO_COLUMN_OF_SIZES, "measured", text.header_row)
        return
    for row, length, weight in zip(text.rows, lengths, weights, strict=True):
        if not length and not weight:
            yield draft.problem(Wrong.NOT_MEASURED, "measured", row)


def weights_in_other_units(draft: Draft) -> Iterator[Problem]:
    """Find weights far off their length, or off all other weights of the lake."""
    heavy, off = _weighed(draft), weights_off(draft)
    if len(off) >= _ENOUGH_FOR_MEDIAN and len(off) > len(heavy) / 2:
        said = {"off": len(off), "weights": len(heavy), "rows": list(off)}
        yield draft.problem(Wrong.WEIGHTS_IN_OTHER_UNITS, "measured", None, "weight_kg", **said)
        return
    for row, (code, values) in off.items():
        yield draft.problem(code, "measured", row, "weight_kg", **values)


def weights_off(draft: Draft) -> dict[int, tuple[Wrong, dict[str, Any]]]:
    """Return the row of each weight that no fish can have, and what is wrong with it."""
    heavy = _weighed(draft)
    if heavy.empty:
        return {}
    found = [*_off_length(heavy), *_off_lake(heavy)]
    return {row: (code, values) for row, code, values in found}


def _weighed(draft: Draft) -> pd.DataFrame:
    fish = draft.frames["measured"]
    return fish[fish["weight_kg"].notna()]


def _off_length(heavy: pd.DataFrame) -> Iterator[tuple[int, Wrong, dict[str, Any]]]:
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
        if off:
            code = Wrong.TOO_HEAVY_FOR_LENGTH if ratio > 1 else Wrong.TOO_LIGHT_FOR_LENGTH
            times = float(f"{max(ratio, 1 / ratio):.1g}")
            yield fish.row, code, {"times": times, "length_mm": fish.length_mm}


def _off_lake(heavy: pd.DataFrame) -> Iterator[tuple[int, Wrong, dict[str, Any]]]:
    """Yield the row of each weight without a length that no fish has, and what is wrong."""
    for lake, group in heavy.groupby("lake", sort=False):
        usual = float(group["weight_kg"].median())
        known = len(group) >= _ENOUGH_FOR_MEDIAN
        for fish in rows_of(group[group["length_mm"].isna()]):
            said = {"lake": lake, "usual_kg": three_digits(usual)}
            if fish.weight_kg > _HEAVIEST_KG:
                yield fish.row, Wrong.HEAVIER_THAN_ANY_FISH, {}
            elif known and fish.weight_kg > usual * _WEIGHT_OFF_MEDIAN:
                yield fish.row, Wrong.FAR_ABOVE_USUAL_WEIGHT, said
            elif known and fish.weight_kg < usual / _WEIGHT_OFF_MEDIAN:
                yield fish.row, Wrong.FAR_BELOW_USUAL_WEIGHT, said
