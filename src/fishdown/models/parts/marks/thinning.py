"""Binomial thinning of marks on a continuous scale: each counts with the same probability.

Sampling needs a density where the binomial has whole numbers: n stands for the interval from n − ½
to n + ½. Where the probability of a mark to count is near 1, that density increases without bound
in the half fish above all marks, and does not integrate to one. It is therefore divided by its
integral; without that, probabilities near 1 would be favoured without any data.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from fishdown.models.array_library import NUMPY
from fishdown.models.whole_numbers import HALF_FISH, at_least_one

# Up to so many marks lost the integral is compared with the sum. Beyond, sum and integral of the
# binomial agree to 0.0013, whatever the probability.
LOST = 9
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(16)
# From 0 to 1, denser near 0, where the integrand falls by orders of magnitude within one mark.
PLACES = ((_NODES + 1.0) / 2.0) ** 2
PLACE_WEIGHTS = _WEIGHTS * (_NODES + 1.0) / 2.0


def share_log_density(
    marks: Any,
    share: Any,
    chance: Any,
    *,
    xp: Any = NUMPY,
) -> Any:
    """Log-density of the share of a release group's marks that counts.

    The binomial of K σ out of K marks on a continuous scale, divided by its integral, and without
    the factor K of the change from numbers to shares.

    Parameters
    ----------
    marks : array or tensor, shape (release_group,)
        K, marks, in fish.
    share : array or tensor, shape (release_group,)
        σ.
    chance : array or tensor
        Probability that a mark counts.
    xp : module
        The array library in use.

    Returns
    -------
    array or tensor, shape (release_group,)
    """
    counting = marks * share
    density = thinning_log_density(counting, marks - counting, chance, xp=xp)
    return density - xp.log(thinning_mass(marks, chance, xp=xp))


def thinning_mass(
    marks: Any,
    chance: Any,
    *,
    xp: Any = NUMPY,
) -> Any:
    """Integral of the continuous binomial, from half a fish below none to half a fish above all.

    The probabilities of the whole numbers sum to one, so the integral is one plus its difference
    from the sum. The two agree where the binomial is wide. They differ where it is cut off, with
    most marks retained, so that it is enough to compare them over the first few marks lost
    (Gauss–Legendre quadrature). Without marks the integral is one.

    Parameters
    ----------
    marks : array or tensor, shape (release_group,)
        Whole numbers of marks.
    chance : array or tensor, shape (release_group,) or broadcastable to it
        Probability that a mark counts, above 0 and below 1.
    xp : module
        The array library in use.

    Returns
    -------
    array or tensor, shape (release_group,)
    """
    marks, chance = marks[..., None], chance[..., None]
    most = marks - (marks - LOST) * at_least_one(marks - LOST)

    def density(lost: Any) -> Any:
        return xp.exp(thinning_log_density(marks - lost, lost, chance, xp=xp))

    integral = ((most + 1.0) * PLACE_WEIGHTS * density((most + 1.0) * PLACES - HALF_FISH)).sum(-1)
    lost = np.arange(LOST + 1.0)
    # No more marks can be lost than there are; any valid number keeps the density finite.
    counted = at_least_one(most - lost + 1.0)
    total = (counted * density(lost * counted)).sum(-1)
    return 1.0 + (integral - total) * at_least_one(marks[..., 0])


def thinning_log_density(
    kept: Any,
    lost: Any,
    chance: Any,
    *,
    xp: Any = NUMPY,
) -> Any:
    """Binomial log-density of `kept` out of kept + lost, on a continuous scale.

    With whole numbers it is SciPy's ``binom.logpmf``.

    Parameters
    ----------
    kept, lost : array or tensor
        In fish.
    chance : array or tensor
        Probability of each to be kept.
    xp : module
        The array library in use.
    """
    return (
        xp.gammaln(kept + lost + 1.0)
        - xp.gammaln(kept + 1.0)
        - xp.gammaln(lost + 1.0)
        + kept * xp.log(chance)
        + lost * xp.log(1.0 - chance)
    )
