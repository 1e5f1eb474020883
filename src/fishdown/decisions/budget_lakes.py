"""What further field days would leave in each lake, draw by draw, and in several lakes together."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from fishdown.decisions.stopping import ALIKE, mean_errors
from fishdown.equality import by_value

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fishdown.decisions.lake_ahead import LakeAhead
    from fishdown.typing import BoolArray, FloatArray

# What is to be as small as can be in all lakes together: lakes above their thresholds, or the
# biomass above them.
Aim = Literal["lakes", "biomass"]
AIMS: tuple[Aim, ...] = ("lakes", "biomass")
# Of the chains: of each half a split is judged that the other half chose.
HALVES = (slice(0, None, 2), slice(1, None, 2))


@by_value
@dataclass(frozen=True)
class LakeDays:
    """A lake after 0, 1, 2, … further field days, each number of them in the same draws.

    Attributes
    ----------
    lake, season : str
    threshold : float
        kg/ha.
    area : float
        ha.
    pulls_a_day : int
    cost_a_day : float
        In the campaign's currency; NaN without prices.
    most : int
        Field days that can be predicted.
    failure : str
        Why a gate failed; empty if none did.
    reason : str
        Why no field day may be given; empty if they may.
    later_year, colder : bool
        Whether some pulls lie in a later year, or in water colder than any reading.
    catch : ndarray, shape (chain, draw, day + 1)
        Fish caught by then; empty if the lake gets no field days.
    biomass : ndarray, shape (chain, draw, day + 1)
        kg/ha.
    """

    lake: str
    season: str
    threshold: float
    area: float
    pulls_a_day: int
    cost_a_day: float
    most: int
    failure: str
    reason: str
    later_year: bool
    colder: bool
    catch: FloatArray
    biomass: FloatArray

    def below(self, days: int | slice) -> BoolArray:
        """Tell whether the lake is below its threshold after so many days, draw by draw."""
        found: BoolArray = self.biomass[:, :, days] < self.threshold
        return found

    def excess_kg(self, days: int | slice) -> FloatArray:
        """Return the kg above the threshold after so many days, draw by draw."""
        found: FloatArray = np.maximum(self.biomass[:, :, days] - self.threshold, 0.0) * self.area
        return found

    def aimed(self, aim: Aim) -> FloatArray:
        """Return what is to be large: 1 if below the threshold, or the kg above it, negative.

        Returns
        -------
        ndarray, shape (chain, draw, day + 1)
        """
        every = slice(None)
        return self.below(every).astype(float) if aim == "lakes" else -self.excess_kg(every)

    @property
    def nearness(self) -> tuple[bool, float]:
        """A key that sorts lakes: those still above their thresholds first, the nearest first."""
        far = float(np.log(max(np.median(self.biomass[:, :, 0]), 1e-9) / self.threshold))
        return far < 0.0, abs(far)


def days_of(ahead: LakeAhead, pulls_a_day: int, cost_a_day: float, most: int) -> LakeDays:
    """Look at pulls to come after each field day.

    Parameters
    ----------
    ahead : LakeAhead
        Of as many pulls as `most` days have, or more.
    """
    shape = ahead.catch.shape[:2]
    reason = "" if ahead.shown else f"withheld ({ahead.failure})"
    if reason or ahead.biomass is None:
        reason = reason or "no fish was weighed, so its biomass density cannot be estimated"
        catch = biomass = np.zeros((*shape, 0))
    else:
        after = np.arange(most + 1) * pulls_a_day
        none = np.zeros((*shape, 1))
        catch = np.concatenate([none, np.cumsum(ahead.catch, axis=2)], axis=2)[:, :, after]
        biomass = ahead.biomass[:, :, after]
    return LakeDays(
        lake=ahead.lake,
        season=ahead.season,
        threshold=ahead.threshold,
        area=ahead.area,
        pulls_a_day=pulls_a_day,
        cost_a_day=cost_a_day,
        most=most,
        failure=ahead.failure,
        reason=reason,
        later_year=ahead.later_year,
        colder=bool(ahead.colder.any()),
        catch=catch,
        biomass=biomass,
    )


def without_days(lake: str, season: str, threshold: float, area: float, *, reason: str) -> LakeDays:
    """Return a lake of which nothing is predicted; parameters are those of `LakeDays`."""
    nothing = np.zeros((1, 1, 0))
    return LakeDays(
        lake=lake,
        season=season,
        threshold=threshold,
        area=area,
        pulls_a_day=0,
        cost_a_day=0.0,
        most=0,
        failure="",
        reason=reason,
        later_year=False,
        colder=False,
        catch=nothing,
        biomass=nothing,
    )


def lakes_below(lakes: Sequence[LakeDays], split: Sequence[int]) -> tuple[float, float]:
    """Return the expected number of lakes below their thresholds and its Monte-Carlo error.

    Half a draw towards the middle in each lake, as for every probability; where all draws of all
    lakes agree, the error is that of those halves.
    """
    each = [lake.below(days) for lake, days in zip(lakes, split, strict=True)]
    size = each[0].size
    chances = np.array([(one.sum() + 0.5) / (size + 1.0) for one in each])
    least = float(np.sqrt((chances * (1.0 - chances)).sum() / size))
    return float(chances.sum()), max(_error(_sum(each)), least)


def kg_above(lakes: Sequence[LakeDays], split: Sequence[int]) -> tuple[float, float]:
    """Return the expected kg above the thresholds of all lakes and its Monte-Carlo error."""
    kg = _sum([lake.excess_kg(days) for lake, days in zip(lakes, split, strict=True)])
    return float(kg.mean()), _error(kg)


def behind(
    aimed: Sequence[FloatArray], best: tuple[Sequence[int], Sequence[int]], other: Sequence[int]
) -> tuple[float, float]:
    """Return by how much a split falls short of others, draw by draw, and the error of that.

    Parameters
    ----------
    aimed : sequence of ndarray, shape (chain, draw, day + 1)
        Of each lake, `LakeDays.aimed`.
    best : tuple of two sequences of int
        What each of the `HALVES` of the chains is compared with.
    other : sequence of int
        The split.
    """
    short = np.zeros(aimed[0].shape[:2])
    for half, split in zip(HALVES, best, strict=True):
        each = (
            draws[half, :, one] - draws[half, :, two]
            for draws, one, two in zip(aimed, split, other, strict=True)
        )
        short[half] = _sum(list(each))
    return float(short.mean()), _error(short)


def alike(short: tuple[float, float]) -> bool:
    """Tell whether a difference is within two Monte-Carlo errors of nothing."""
    return short[0] <= ALIKE * short[1]


def _sum(draws: Sequence[FloatArray | BoolArray]) -> FloatArray:
    total: FloatArray = np.sum([one.astype(float) for one in draws], axis=0)
    return total


def _error(draws: FloatArray) -> float:
    return float(mean_errors(draws[:, :, None])[0])
