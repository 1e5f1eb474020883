"""Field days shared out among lakes: the best split, and splits by a rule; `models/README.md`.

The best split is a multiple-choice knapsack (Kellerer, Pferschy and Pisinger 2004, chapter 11;
reference from memory): of the numbers of days of each lake exactly one is chosen.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fishdown.equality import by_value
from fishdown.errors import PlanError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fishdown.typing import BoolArray, FloatArray, IntArray

# Sums of prices that differ by less are the same.
_ROUNDING = 1e-9


@by_value
@dataclass(frozen=True)
class Limit:
    """What all lakes together may use: field days, or money.

    Attributes
    ----------
    a_day : ndarray, shape (lake,)
        What a field day in each lake uses, above 0.
    most : float
        What there is of it.
    """

    a_day: FloatArray
    most: float

    def room(self, days: IntArray, lake: int) -> int:
        """Return how many more days a lake may have beside those that all lakes have."""
        left = self.most * (1.0 + _ROUNDING) - float(self.a_day @ days)
        return int(max(left, 0.0) // self.a_day[lake])


def best_split(gains: Sequence[FloatArray], limits: Sequence[Limit]) -> tuple[int, ...]:
    """Return the days of each lake whose gains sum to the most within the limits.

    Gains need not be concave: the first days may bring little and later ones much. The integer
    programme (HiGHS by `scipy.optimize.milp`) finds the best of all splits. Days that bring a lake
    no more than fewer do are never given.

    Parameters
    ----------
    gains : sequence of ndarray, shape (day + 1,)
        Of 0, 1, 2, … days in each lake.
    limits : sequence of Limit

    Raises
    ------
    PlanError
        If the solver gives up; no days at all are within all limits, so that there is an answer.
    """
    from scipy.optimize import Bounds, LinearConstraint, milp
    from scipy.sparse import csr_array

    kept = [np.flatnonzero(_better_than_fewer(gain)) for gain in gains]
    days = np.concatenate(kept)
    lake = np.repeat(np.arange(len(gains)), [len(options) for options in kept])
    gained = np.concatenate(
        [gain[options] - gain[0] for gain, options in zip(gains, kept, strict=True)]
    )
    scale = gained.max()
    if scale <= 0.0:
        return (0,) * len(gains)
    one_each = csr_array((np.ones(len(days)), (lake, np.arange(len(days)))))
    within = [
        LinearConstraint((limit.a_day[lake] * days)[None], -np.inf, limit.most * (1 + _ROUNDING))
        for limit in limits
    ]
    found = milp(
        # Far above the tolerances of the solver, which are absolute.
        -1e3 * gained / scale,
        integrality=np.ones(len(days)),
        bounds=Bounds(0, 1),
        constraints=[LinearConstraint(one_each, 1, 1), *within],
        options={"mip_rel_gap": 0.0},
    )
    if found.x is None:
        raise PlanError(f"the solver found no split of the field days ({found.message})")
    return tuple(days[found.x > 0.5].tolist())


def _better_than_fewer(gain: FloatArray) -> BoolArray:
    """Tell which numbers of days bring more than all smaller ones; none at all always stays."""
    before = np.maximum.accumulate(gain)[:-1]
    return np.concatenate([[True], gain[1:] > before])


def shared_out(
    order: Sequence[int], most: Sequence[int], limits: Sequence[Limit], at_a_time: int
) -> tuple[int, ...]:
    """Return the days of each lake if lakes take them in turn until no more are to be had.

    Parameters
    ----------
    order : sequence of int
        Lakes, in the order of their turns.
    most : sequence of int
        Days that each lake can take.
    limits : sequence of Limit
    at_a_time : int
        Days that a lake takes in its turn: 1 for an equal split, as many as it can take for one
        lake after the other.
    """
    days = np.zeros(len(most), dtype=np.int64)
    taking = True
    while taking:
        taking = False
        for lake in order:
            room = min(limit.room(days, lake) for limit in limits)
            taken = min(at_a_time, most[lake] - int(days[lake]), room)
            days[lake] += taken
            taking = taking or taken > 0
    return tuple(days.tolist())
