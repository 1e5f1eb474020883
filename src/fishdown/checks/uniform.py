"""Test of uniformity on 0 to 1: the empirical distribution and its simultaneous band.

The band is simultaneous: for uniform numbers the whole empirical distribution stays inside
it with the stated probability [1]_. The coverage of a band is computed exactly, by carrying the
distribution of the counts from one point to the next, and the band is widened until it has the
required coverage.

References
----------
.. [1] Säilynoja, Bürkner & Vehtari 2022. Graphical test for discrete uniformity and its
   applications in goodness-of-fit evaluation and multiple sample comparison. Statistics and
   Computing 32:32. doi:10.1007/s11222-022-10090-6
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np
from scipy import stats

from fishdown.equality import by_value

if TYPE_CHECKING:
    from collections.abc import Callable

    from fishdown.typing import FloatArray, IntArray

# Points at which the empirical distribution is evaluated.
MOST_POINTS = 100


@by_value
@dataclass(frozen=True)
class Evenness:
    """The empirical distribution of numbers that should be uniform on 0 to 1.

    Attributes
    ----------
    points : ndarray, shape (point,)
        Where it is evaluated.
    found, low, high : ndarray, shape (point,)
        Share of the numbers at most as large, and the simultaneous band.
    """

    points: FloatArray
    found: FloatArray
    low: FloatArray
    high: FloatArray

    @property
    def even(self) -> bool:
        """Whether it stays inside its band everywhere."""
        return bool(((self.low <= self.found) & (self.found <= self.high)).all())

    @property
    def tells(self) -> bool:
        """Whether any numbers could leave the band; a few never can."""
        return bool((self.low > 0.0).any() or (self.high < 1.0).any())


def evenness(numbers: FloatArray, probability: float) -> Evenness:
    """Compare numbers with a uniform distribution on 0 to 1.

    Parameters
    ----------
    numbers : ndarray, shape (count,)
        Between 0 and 1.
    probability : float
        Coverage of the band for uniform numbers.
    """
    count = len(numbers)
    points = inner_points(count)
    low, high = simultaneous_band(count, probability)
    found = np.searchsorted(np.sort(numbers), points, side="right") / count
    return Evenness(points, found, low / count, high / count)


def power(
    count: int, probability: float, distribution: Callable[[FloatArray], FloatArray]
) -> float:
    """Return the probability that non-uniform numbers leave the band somewhere.

    Exact, as `coverage` is.

    Parameters
    ----------
    count : int
    probability : float
        Coverage of the band for uniform numbers.
    distribution : callable
        The cumulative distribution function of the numbers, on 0 to 1.
    """
    low, high = simultaneous_band(count, probability)
    return 1.0 - coverage(count, distribution(inner_points(count)), low, high)


def inner_points(count: int) -> FloatArray:
    """Return the points between 0 and 1 at which so many numbers are evaluated."""
    steps = max(2, min(count, MOST_POINTS))
    return np.arange(1, steps) / steps


@lru_cache(maxsize=64)
def simultaneous_band(count: int, probability: float) -> tuple[IntArray, IntArray]:
    """Return bounds on how many of `count` uniform numbers are at most each of `inner_points`.

    Parameters
    ----------
    count : int
    probability : float
        Of all counts to be inside the band at once.

    Returns
    -------
    low, high : ndarray of int, shape (point,)
    """
    points = inner_points(count)
    narrow, wide = 1.0 - probability, (1.0 - probability) / (4.0 * len(points))
    # Bisection on the tail left out at each point by itself.
    for _ in range(30):
        middle = np.sqrt(narrow * wide)
        if coverage(count, points, *_pointwise(count, points, middle)) >= probability:
            wide = middle
        else:
            narrow = middle
    return _pointwise(count, points, wide)


def coverage(count: int, points: FloatArray, low: IntArray, high: IntArray) -> float:
    """Return the probability that uniform numbers stay between two counts at every point.

    Numbers of another distribution are uniform on the scale of that distribution: give its values
    at the points instead. Increments of a Poisson process are independent, and given its
    total they are those of uniform numbers; so a convolution from point to point suffices.
    """
    # Only the counts inside the band are carried along; `first` is the smallest of them.
    weight, first, last = np.ones(1), 0, 0.0
    for point, least, most in zip(
        [*points, 1.0], [*low.tolist(), count], [*high.tolist(), count], strict=True
    ):
        step = stats.poisson.pmf(np.arange(most - first + 1), count * (point - last))
        weight = np.convolve(weight, step)[least - first : most - first + 1]
        first, last = least, point
    return float(weight[0] / stats.poisson.pmf(count, count))


def _pointwise(count: int, points: FloatArray, tail: float) -> tuple[IntArray, IntArray]:
    low = stats.binom.ppf(tail / 2.0, count, points).astype(np.int64)
    high = stats.binom.ppf(1.0 - tail / 2.0, count, points).astype(np.int64)
    return low, high
