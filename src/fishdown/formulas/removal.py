"""The likelihood of removal by passes of equal effort, over whole numbers of fish.

With k passes, catches c_i, T = Σ c_i and X = Σ (k − i) c_i, every fish present is caught in a
pass with the same probability p. Then p has the best value T/(k N − X) at each N, and what is
left is a function of N alone (Moran 1951, Zippin 1956), N = T, T + 1, …
"""

from __future__ import annotations

from dataclasses import dataclass
from math import inf, sqrt
from typing import TYPE_CHECKING

import numpy as np

from fishdown.equality import by_value
from fishdown.errors import DesignError
from fishdown.formulas.counts import as_counts, least_whole
from fishdown.formulas.limits import normal_quantile

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import ArrayLike, NDArray


@by_value
@dataclass(frozen=True)
class Removal:
    """Catches of successive passes.

    Attributes
    ----------
    catches : ndarray, shape (k,)
        Fish caught and removed in each pass.
    """

    catches: NDArray[np.float64]

    @classmethod
    def read(cls, catches: ArrayLike, *, passes: int | None = None) -> Removal:
        """Check catches, in time order, and refuse those that do not decline.

        Raises
        ------
        DesignError
            For fewer than two passes, or not as many as `passes` where a formula is made for them;
            for no fish; or for catches that do not decline overall, X ≤ T (k − 1)/2: then no finite
            abundance is more likely than an endless one (but for the rounding to whole fish).
        """
        counts = as_counts(catches, "catches")
        k = counts.size
        if passes is not None and k != passes:
            raise DesignError(f"made for {passes} passes: there {_are(k)}")
        if k < 2:
            raise DesignError(f"removal needs 2 or more passes: there {_are(k)}")
        removal = cls(counts)
        if removal.total == 0:
            raise DesignError("no fish were caught")
        if 2 * removal.earliness <= removal.total * (k - 1):
            shown = ", ".join(f"{count:g}" for count in counts)
            raise DesignError(
                f"catches do not decline from pass to pass ({shown}), so abundance has no upper "
                "limit"
            )
        return removal

    @property
    def passes(self) -> int:
        """Number of passes k."""
        return self.catches.size

    @property
    def total(self) -> int:
        """Fish removed by all passes, T."""
        return int(self.catches.sum())

    @property
    def earliness(self) -> int:
        """X, the catches weighted by the passes that follow them."""
        return int((np.arange(self.passes - 1, -1, -1) * self.catches).sum())

    def capture(self, N: float) -> float:
        """Return the best probability of capture in a pass at an abundance: T/(k N − X)."""
        return self.total / (self.passes * N - self.earliness)

    def log_likelihood(self, N: int) -> float:
        """Return the log-likelihood of N ≥ T at the best p, less what it tends to as N grows.

        Positive where N is more likely than an endless number of fish.
        """
        from scipy.special import xlog1py

        T, chances = self.total, self.passes * N - self.earliness
        # Sums of small logarithms: differences of ln N! lose all digits when N is large.
        return float(
            np.log1p(-np.arange(T) / float(N)).sum()
            - T * np.log1p(-self.earliness / (self.passes * N))
            + xlog1py(chances - T, -T / chances)
            + T
        )

    def most_likely(self) -> int:
        """Return the whole N of greatest likelihood."""
        return least_whole(
            lambda N: self.log_likelihood(N + 1) <= self.log_likelihood(N), self.total
        )

    def profile_limits(self, level: float) -> tuple[float, float]:
        """Return the profile-likelihood interval.

        The least and the greatest whole N whose log-likelihood is within half a chi-squared
        quantile (1 df) of the best. The lower is not below the catch; the upper is infinite when an
        endless number of fish is within as well.
        """
        best = self.most_likely()
        cut = self.log_likelihood(best) - normal_quantile(level) ** 2 / 2
        return limits_above(self.log_likelihood, self.total, best, cut, endless=cut <= 0)

    def errors(self, N: float) -> tuple[float, float]:
        """Return the asymptotic standard errors of abundance and of capture probability.

        SE² = N (1 − q^k) q^k / [(1 − q^k)² − (p k)² q^(k−1)] of N and
        (p q)² (1 − q^k) / (N [q (1 − q^k)² − (p k)² q^k]) of p, with q = 1 − p.

        References
        ----------
        Zippin, C. 1956. An evaluation of the removal method of estimating animal populations.
        Biometrics 12:163–189.
        """
        k, p = self.passes, self.capture(N)
        q = 1 - p
        if q <= 0:
            return 0.0, 0.0
        seen = 1 - q**k
        information = seen**2 - (p * k) ** 2 * q ** (k - 1)
        return sqrt(N * seen * q**k / information), p * q * sqrt(seen / (N * q * information))

    def misfit(self, N: float) -> str:
        """Say if the catches scatter more than one capture probability allows; else nothing.

        Zippin's chi-squared test of the catches against N p q^(i−1), with k − 2 degrees of freedom,
        in words if its probability is below 0.05 and every pass was expected to catch a fish.

        References
        ----------
        Zippin, C. 1956. An evaluation of the removal method of estimating animal populations.
        Biometrics 12:163–189 (form of the test from memory).
        """
        from scipy.special import chdtrc

        freedom, p = self.passes - 2, self.capture(N)
        expected = N * p * (1 - p) ** np.arange(self.passes)
        if freedom == 0 or expected.min() < 1:
            return ""
        chi_squared = float(((self.catches - expected) ** 2 / expected).sum())
        probability = float(chdtrc(freedom, chi_squared))
        if probability >= 0.05:
            return ""
        shown = "P below 0.001" if probability < 0.001 else f"P {probability:.2g}"
        return (
            f"catches do not fit one catchability (chi-squared {chi_squared:.1f}, {freedom} df, "
            f"{shown}): limits too narrow"
        )


def limits_above(
    height: Callable[[int], float], least: int, best: int, cut: float, *, endless: bool
) -> tuple[float, float]:
    """Return the least and the greatest whole number at which a function stands above a cut.

    Its single peak is at `best`, nothing below `least` is allowed, and it may stay above for ever:
    `endless`.
    """
    low = least_whole(lambda count: count >= best or height(count) >= cut, least)
    high = inf if endless else least_whole(lambda count: height(count) < cut, best) - 1
    return float(low), float(high)


def _are(passes: int) -> str:
    return f"is {passes}" if passes == 1 else f"are {passes}"
