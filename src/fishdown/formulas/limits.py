"""Confidence limits that need nothing but counts: normal, Student, and exact ones of counts.

Quantiles come from ``scipy.special``, which loads faster than ``scipy.stats``.
"""

from __future__ import annotations

from math import inf
from typing import TYPE_CHECKING

import numpy as np

from fishdown.formulas.counts import least_whole

if TYPE_CHECKING:
    from numpy.typing import NDArray


def normal_quantile(level: float) -> float:
    """Return the two-sided standard normal quantile: 1.645 for a level of 0.9."""
    from scipy.special import ndtri

    return float(ndtri(0.5 + level / 2))


def student_quantile(level: float, freedom: int) -> float:
    """Return the two-sided Student t quantile: 2.353 for 0.9 and 3 degrees of freedom."""
    from scipy.special import stdtrit

    return float(stdtrit(freedom, 0.5 + level / 2))


def poisson_limits(count: int, level: float) -> tuple[float, float]:
    """Return exact limits for the mean of a Poisson count.

    References
    ----------
    Garwood, F. 1936. Fiducial limits for the Poisson distribution. Biometrika 28:437–442.
    """
    from scipy.special import gammaincinv

    tail = (1 - level) / 2
    low = float(gammaincinv(count, tail)) if count else 0.0
    return low, float(gammaincinv(count + 1, 1 - tail))


def binomial_limits(count: int, of: int, level: float) -> tuple[float, float]:
    """Return exact limits for a share of which `count` out of `of` were seen.

    References
    ----------
    Clopper, C.J. and E.S. Pearson. 1934. The use of confidence or fiducial limits illustrated in
    the case of the binomial. Biometrika 26:404–413.
    """
    from scipy.special import betaincinv

    tail = (1 - level) / 2
    low = float(betaincinv(count, of - count + 1, tail)) if count else 0.0
    high = float(betaincinv(count + 1, of - count, 1 - tail)) if count < of else 1.0
    return low, high


def hypergeometric_limits(
    marked: int, caught: int, recaptured: int, level: float
) -> tuple[float, float]:
    """Give exact limits for abundance from one sample taken without replacement.

    The limits are the least and the greatest whole N at which neither tail of the hypergeometric
    distribution of the recaptures is rarer than half of what the level leaves out. They hold at
    least the stated level, and never lie below the fish that were handled.

    Parameters
    ----------
    marked : int
        Marked fish M in the lake.
    caught : int
        Fish C examined.
    recaptured : int
        Marked fish R among them.
    level : float
        Confidence level.

    Returns
    -------
    tuple of float
        Lower and upper limit of N (fish); the upper is infinite without recaptures.

    References
    ----------
    Clopper, C.J. and E.S. Pearson. 1934. The use of confidence or fiducial limits illustrated in
    the case of the binomial. Biometrika 26:404–413 (the principle).
    Chapman, D.G. 1951. Some properties of the hypergeometric distribution with applications to
    zoological sample censuses. University of California Publications in Statistics 1:131–160.
    """
    tail = (1 - level) / 2
    handled = marked + caught - recaptured
    low = least_whole(lambda N: _chance(0, recaptured, N, marked, caught) > tail, handled)
    if recaptured == 0:
        return float(low), inf
    beyond = least_whole(
        lambda N: _chance(recaptured, min(marked, caught), N, marked, caught) <= tail, low
    )
    return float(low), float(max(beyond - 1, low))


def _chance(fewest: int, most: int, N: int, marked: int, caught: int) -> float:
    """Hypergeometric probability of `fewest` to `most` recaptures among N fish."""
    from scipy.special import gammaln

    def log_ways(n: int, k: NDArray[np.int64] | int) -> NDArray[np.float64]:
        ways: NDArray[np.float64] = gammaln(n + 1) - gammaln(k + 1) - gammaln(n - k + 1)
        return ways

    recaptured = np.arange(max(fewest, marked + caught - N), most + 1)
    log_chance = (
        log_ways(marked, recaptured)
        + log_ways(N - marked, caught - recaptured)
        - log_ways(N, caught)
    )
    return float(np.exp(log_chance).sum())
