"""The one interval that fishdown reports: equal-tailed, holding 90 %."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from fishdown.typing import FloatArray

INTERVAL = 0.90
TAILS = (0.05, 0.95)
# Low, median, high.
POINTS = np.array([TAILS[0], 0.5, TAILS[1]])


def low_median_high(draws: Any) -> FloatArray:
    """Return the lower end of the interval, the median and the upper end, over all draws.

    Parameters
    ----------
    draws : array_like
        Of any shape, in any unit.

    Returns
    -------
    ndarray, shape (3,)
        In the unit of the draws.
    """
    points: FloatArray = np.quantile(draws, POINTS)
    return points


def named_points(name: str, draws: Any) -> dict[str, float]:
    """Return the same by the names of columns, such as ``biomass_{}_kg_per_ha``."""
    low, median, high = low_median_high(draws).tolist()
    points = {"low": low, "median": median, "high": high}
    return {name.format(point): value for point, value in points.items()}


def normal_sd(low: float, high: float) -> float:
    """Return the standard deviation of a normal variable whose interval has these ends.

    Parameters
    ----------
    low, high : float
        For a log-normal variable, their logarithms.
    """
    from scipy import stats

    return float((high - low) / (2.0 * stats.norm.ppf(0.5 + 0.5 * INTERVAL)))
