"""The posterior of removal passes by the beta function and plain sums, apart from fishdown.

With a uniform prior on the share p that a pass takes, p integrates out in closed form. Of N fish
in k passes, T = Σ c caught, X = Σ (k − i) c_i as in Seber & Le Cren 1967 and Zippin 1958:

    P(N | c) ∝ π(N) · N!/(N − T)! · B(T + 1, kN − X − T + 1),

and given N, p is Beta(T + 1, kN − X − T + 1). π is the prior of `few_passes`: log-normal, median
1,000 fish/ha, standard deviation 6 of its logarithm, close to 1/N. For many fish the terms fall
like N⁻², whatever was caught, so the posterior has no useful mean where catches do not fall, but
it has quantiles. Beyond `WHOLE` fish not caught the numbers are taken in steps of 0.1 %.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import stats
from scipy.special import betaln, gammaln, logsumexp

WHOLE = 20_000
LARGEST = 1e12


@dataclass(frozen=True)
class PassesByHand:
    """Posterior of abundance and of the share that a pass takes."""

    catches: tuple[int, ...]
    N: np.ndarray
    probability: np.ndarray

    @property
    def mode(self) -> int:
        """The most probable number of fish, where that is in the part of whole numbers."""
        return int(self.N[: WHOLE + 1][self.probability[: WHOLE + 1].argmax()])

    def quantile(self, share: float) -> int:
        """Return the least number of fish that holds at least this share below or at it."""
        return int(self.N[np.searchsorted(self.probability.cumsum(), share)])

    def at_most(self, number: float) -> float:
        """Return P(N ≤ number)."""
        return float(self.probability[np.less_equal(self.N, number)].sum())

    def mean(self) -> float:
        return float(self.N @ self.probability)

    def share_below(self, share: float) -> float:
        """Return P(p ≤ share): beta distributions given N, averaged over N."""
        T, escapes = _beta_numbers(self.catches, self.N)
        return float(self.probability @ stats.beta.cdf(share, T + 1, escapes + 1))


def passes_by_hand(catches: Sequence[int], area: float = 1.0) -> PassesByHand:
    """Enumerate the posterior of `few_passes` for one season of removal passes."""
    T = int(np.sum(catches))
    whole = np.arange(T, T + WHOLE + 1, dtype=float)
    steps = np.exp(np.arange(np.log(whole[-1] + 0.5), np.log(LARGEST), 0.001))
    N = np.append(whole, np.sqrt(steps[1:] * steps[:-1]))
    numbers_each = np.append(np.ones(whole.size), np.diff(steps))
    caught, escapes = _beta_numbers(catches, N)
    log_height = (
        np.log(numbers_each)
        + stats.lognorm(s=6.0, scale=1000.0 * area).logpdf(N)
        + gammaln(N + 1)
        - gammaln(N - T + 1)
        + betaln(caught + 1, escapes + 1)
    )
    return PassesByHand(tuple(catches), N, np.exp(log_height - logsumexp(log_height)))


def _beta_numbers(catches: Sequence[int], N: np.ndarray) -> tuple[int, np.ndarray]:
    """Return how often a fish was taken by a pass, and how often it escaped one."""
    k = len(catches)
    T = int(np.sum(catches))
    X = sum((k - i) * c for i, c in enumerate(catches, start=1))
    return T, k * N - X - T
