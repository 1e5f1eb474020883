"""What the measured fish of a season determine of its biomass."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fishdown.identifiability.codes import Remark
from fishdown.records.rules_sizes import FEWEST_PAIRS
from fishdown.records.selection import selections_of
from fishdown.sentences import Said

if TYPE_CHECKING:
    from fishdown.records.checked import Records


def about_weights(records: Records, lake: str, season: str) -> tuple[Said | None, list[Said]]:
    """Say what biomass rests on in a season, and what to remark on its weights and lengths.

    Returns
    -------
    evidence : Said or None
        What biomass rests on; None where the season has no fish that determine it.
    remarks : list of Said
    """
    measured = records.measured
    here = measured["lake"] == lake
    mine = here & (measured["season"] == season)
    heavy, long = measured["weight_kg"].notna(), measured["length_mm"].notna()
    weighed, alone = int((mine & heavy).sum()), int((mine & ~heavy).sum())
    pairs = int((heavy & long).sum())
    related = alone > 0 and pairs >= FEWEST_PAIRS
    remarks = []
    if not (weighed or related):
        remarks.append(Said(_borrowed(bool((here & heavy).any()), bool(heavy.any()))))
    counts = {"weighed": weighed, "alone": alone, "pairs": pairs}
    if alone and not related:
        remarks.append(Said(Remark.NOT_WEIGHED, {"alone": alone, "several": alone > 1}))
    by_size, by_catch = selections_of(records, lake, season)
    if by_size is not None:
        remarks.append(Said(Remark.SELECTED_FOR_WEIGHING, by_size.values()))
    if by_catch is not None:
        remarks.append(Said(Remark.SELECTED_FOR_MEASURING, by_catch.values()))
    if related:
        code = Remark.WEIGHTS_AND_LENGTHS if weighed else Remark.LENGTHS
        return Said(code, counts), remarks
    return Said(Remark.WEIGHTS, counts) if weighed else None, remarks


def _borrowed(lake_weighed: bool, any_weighed: bool) -> Remark:
    if lake_weighed:
        return Remark.NO_WEIGHTS_HERE
    return Remark.NO_WEIGHTS_IN_LAKE if any_weighed else Remark.NO_WEIGHTS
