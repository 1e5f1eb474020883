"""Mean weight of the fish in a lake as it is netted: growth, and nets that select by size.

Fish caught weigh on average s times those in the lake. Then mass balance, d(N w) = s w dN, gives
w = m (N / N₀)^(s − 1), see `models/README.md`, "Fish weighed from catches".
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from fishdown.models.array_library import NUMPY

if TYPE_CHECKING:
    from fishdown.typing import FloatArray

DAYS = 30.0
# Fewer fish than this have no mean weight.
FEWEST = 1.0


def log_left(before: Any, gone: Any, *, xp: Any = NUMPY) -> Any:
    """Return ln(N / N₀), of at least one fish.

    Parameters
    ----------
    before : array or tensor
        Fish before the season's first pull, N₀.
    gone : array or tensor, broadcastable
        Fish gone since.
    xp : module
        The array library in use.
    """
    return xp.log(xp.maximum(before - gone, FEWEST)) - xp.log(xp.maximum(before, FEWEST))


def log_weight_change(log_share_left: Any, time: Any, selectivity: Any, trend: Any) -> Any:
    """Return ln of the mean weight in the lake, relative to that before the first pull.

    Parameters
    ----------
    log_share_left : array or tensor
        From `log_left`.
    time : array or tensor
        Since the first pull, in units of `DAYS` days.
    selectivity : array or tensor
        s, mean weight of the fish caught relative to those in the lake.
    trend : array or tensor
        g, the change of ln weight in `DAYS` days.
    """
    return trend * time + (selectivity - 1.0) * log_share_left


def mass_taken(before: FloatArray, taken: FloatArray, selectivity: FloatArray) -> FloatArray:
    """Return what a catch weighs, in units of the mean weight in the lake before it.

    Parameters
    ----------
    before, taken : ndarray, broadcastable
        Fish in the lake just before the catch, N, and in it, D.
    selectivity : ndarray, broadcastable
        s.

    Returns
    -------
    ndarray
        N (1 − ((N − D) / N)^s), which is D where s is 1.
    """
    share_left = np.maximum(1.0 - taken / np.maximum(before, FEWEST), 0.0)
    found: FloatArray = np.maximum(before, 0.0) * (1.0 - share_left**selectivity)
    return found
