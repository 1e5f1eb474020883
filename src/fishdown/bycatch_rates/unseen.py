"""What can be said of a species that was never counted."""

from __future__ import annotations

import math

from fishdown.bycatch_rates.design import LOG_CLUMPING
from fishdown.intervals import TAILS

# An empty record has at least this probability below the bound: the upper end of the one interval.
_LEAST = TAILS[0]


def most_pulls_with(pulls: float) -> float:
    """Return the upper bound of the share of pulls with a species that none of them had.

    Exact one-sided 95 % bound of a proportion, 1 − 0.05^(1/n), near 3/n (Hanley and Lippman-Hand
    1983, JAMA 249:1743–1745).

    Parameters
    ----------
    pulls : float
        Pulls whose bycatch was counted, more than 0.
    """
    return float(-math.expm1(math.log(_LEAST) / pulls))


def most_per_pull(pulls: float, clumping: float = math.exp(LOG_CLUMPING[0])) -> float:
    """Return the upper bound of fish per pull of a species that was never counted.

    The mean μ at which n negative binomial counts of clumping k are all 0 with probability 5 %:
    (k / (k + μ))^(nk) = 0.05.

    Parameters
    ----------
    pulls : float
        Pulls whose bycatch was counted, more than 0.
    clumping : float
        k; by default the median of its prior.
    """
    return clumping * math.expm1(-math.log(_LEAST) / (pulls * clumping))
