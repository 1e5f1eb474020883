"""What the measured fish of a season determine of its biomass."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fishdown.records.rules_sizes import FEWEST_PAIRS
from fishdown.records.selection import selections_of
from fishdown.sentences import sentence
from fishdown.words import counted

if TYPE_CHECKING:
    from fishdown.records.checked import Records

EFFECT = "about {percent:.0f} % too <{larger:?}high|low>"


def about_weights(records: Records, lake: str, season: str) -> tuple[str, list[str]]:
    """Say what biomass rests on in a season, and what to remark on its weights and lengths.

    Parameters
    ----------
    records : Records
    lake, season : str

    Returns
    -------
    evidence : str
        What biomass rests on; empty where the season has no fish that determine it.
    remarks : list of str
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
        remarks.append(_borrowed(bool((here & heavy).any()), bool(heavy.any())))
    if alone and not related:
        has = "has" if alone == 1 else "have"
        remarks.append(f"{counted(alone, 'fish', 'fish')} {has} a length but no weight")
    by_size, by_catch = selections_of(records, lake, season)
    if by_size is not None:
        which = "larger" if by_size.larger else "smaller"
        remarks.append(
            f"{which} fish were more likely to be weighed: from the weights alone, biomass would "
            f"be {sentence(EFFECT, by_size.values())}"
        )
    if by_catch is not None:
        which = "larger" if by_catch.larger else "smaller"
        remarks.append(
            f"{which} fish seem to have been selected for measuring: biomass may be "
            f"{sentence(EFFECT, by_catch.values())}"
        )
    told = [counted(weighed, "weight")] if weighed else []
    if related:
        lengths = counted(alone, "more length" if weighed else "length")
        told.append(f"{lengths} (length–weight relation of {pairs} fish)")
    return (f"{' and '.join(told)}: biomass" if told else ""), remarks


def _borrowed(lake_weighed: bool, any_weighed: bool) -> str:
    if lake_weighed:
        return "no weights: biomass from the mean weight of the lake's other seasons"
    if any_weighed:
        return "no weights: biomass only from the mean weight of other lakes, by partial pooling"
    return "no weights: no biomass"
