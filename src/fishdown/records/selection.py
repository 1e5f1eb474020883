"""Whether the fish that were weighed, or measured, are like those that were not."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from fishdown.labels import season_label

if TYPE_CHECKING:
    from collections.abc import Iterator

    from fishdown.records.checked import Records
    from fishdown.typing import FloatArray

# Fewer fish than this on one side, and they may differ by accident (our judgement, no source).
_FEWEST_FISH = 8
# Ranks further apart than this come by chance less than three times in a thousand.
_CLEAR = 3.0
# A smaller shift of biomass than this is not worth a word (our judgement, no source).
_WORTH_A_WORD = 0.05
# Shares of a catch that count as all of it, and as a part of it (our judgement, no source).
_NEARLY_ALL, _PART = 0.8, 0.5


@dataclass(frozen=True)
class Selection:
    """Fish that went on record in one season, unlike those that did not.

    Attributes
    ----------
    lake, season : str
        Where and when.
    chosen, others : int
        Fish on either side.
    chosen_middle, others_middle : float
        Medians of what they are compared by.
    unit : str
        Unit of the medians, mm or kg.
    excess : float
        By what share the mean weight of the chosen is above (below, if negative) the mean that
        biomass needs. Lengths count by their cubes.
    """

    lake: str
    season: str
    chosen: int
    others: int
    chosen_middle: float
    others_middle: float
    unit: str
    excess: float

    @property
    def larger(self) -> bool:
        """Whether it is the larger fish that were chosen."""
        return self.excess > 0

    def values(self) -> dict[str, Any]:
        """Return what sentences on it name, `percent` of biomass among them."""
        season = season_label(self.lake, self.season)
        percent = 100.0 * abs(self.excess)
        return {**vars(self), "season": season, "larger": self.larger, "percent": percent}


def weighed_among_measured(measured: pd.DataFrame) -> Iterator[Selection]:
    """Find seasons whose weighed fish are longer or shorter than those with a length only.

    Parameters
    ----------
    measured : pandas.DataFrame
        Columns lake, season, length_mm, weight_kg.
    """
    long = measured[measured["length_mm"].notna()]
    if long["weight_kg"].isna().all():
        return
    for (lake, season), fish in long.groupby(["lake", "season"], sort=False):
        weighed = fish["weight_kg"].notna()
        length = fish["length_mm"].to_numpy(np.float64)
        chosen, others = length[weighed], length[~weighed]
        if not _unlike(chosen, others):
            continue
        excess = float((chosen**3).mean() / (length**3).mean() - 1.0)
        if abs(excess) >= _WORTH_A_WORD:
            yield _selection(lake, season, chosen, others, "mm", excess)


def picked_from_catches(measured: pd.DataFrame, pulls: pd.DataFrame) -> Iterator[Selection]:
    """Find seasons whose catches measured in part gave other fish than those measured whole.

    Parameters
    ----------
    measured : pandas.DataFrame
        Columns lake, season, date, net, length_mm, weight_kg; fish without a net are left out.
    pulls : pandas.DataFrame
        Columns lake, date, net, caught.
    """
    if measured.empty:
        return
    catch = ["lake", "date", "net"]
    caught = pulls.groupby(catch, sort=False)["caught"].sum().rename("in_catch")
    fish = measured[measured["net"] != ""].join(caught, on=catch)
    fish = fish[fish["in_catch"] > 0]
    share = fish.groupby(catch)["row"].transform("count") / fish["in_catch"]
    for (lake, season), mine in fish.groupby(["lake", "season"], sort=False):
        for column, unit, power in (("length_mm", "mm", 3), ("weight_kg", "kg", 1)):
            size = mine[column].to_numpy(np.float64)
            known = ~np.isnan(size)
            part = size[known & (share[mine.index] <= _PART).to_numpy()]
            whole = size[known & (share[mine.index] >= _NEARLY_ALL).to_numpy()]
            if not _unlike(part, whole):
                continue
            excess = float((size[known] ** power).mean() / (whole**power).mean() - 1.0)
            if abs(excess) >= _WORTH_A_WORD:
                yield _selection(lake, season, part, whole, unit, excess)
                break


def selections_of(
    records: Records, lake: str, season: str
) -> tuple[Selection | None, Selection | None]:
    """Return what `weighed_among_measured` and `picked_from_catches` find in one season."""
    mine = (records.measured["lake"] == lake) & (records.measured["season"] == season)
    measured = records.measured[mine]
    return (
        next(weighed_among_measured(measured), None),
        next(picked_from_catches(measured, records.pulls[records.pulls["lake"] == lake]), None),
    )


def rank_distance(one: FloatArray, other: FloatArray) -> float:
    """Return by how many standard errors the ranks of one sample are above those of another.

    The statistic of Mann & Whitney (1947, Ann. Math. Stat. 18:50–60), standardised; ties only
    shrink it.
    """
    ranks = pd.Series(np.concatenate([one, other])).rank().to_numpy()
    first, second = len(one), len(other)
    above = ranks[:first].sum() - first * (first + 1) / 2
    spread = np.sqrt(first * second * (first + second + 1) / 12)
    return float((above - first * second / 2) / spread)


def _unlike(one: FloatArray, other: FloatArray) -> bool:
    enough = min(len(one), len(other)) >= _FEWEST_FISH
    return enough and abs(rank_distance(one, other)) >= _CLEAR


def _selection(
    lake: Any, season: Any, chosen: FloatArray, others: FloatArray, unit: str, excess: float
) -> Selection:
    middles = float(np.median(chosen)), float(np.median(others))
    return Selection(lake, season, len(chosen), len(others), *middles, unit, excess)
