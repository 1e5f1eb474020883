"""Marks that count by chance, each by the same: the binomial on a continuous scale.

Sampling needs a density where the binomial has whole numbers: n stands for the stretch from n − ½
to n + ½. Where a mark is nearly sure to count, that density rises without bound in the half fish
above all marks, and no longer integrates to one by itself. Without dividing by its integral, as is
done here, sureness would be favoured for no reason in the records.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from fishdown.models.array_library import NUMPY
from fishdown.models.whole_numbers import HALF_FISH, at_least_one

# So many marks lost at the most are integrated one by one. Beyond, sum and integral of the binomial
# agree to 0.0013, whatever the chance.
LOST = 9
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(16)
# From 0 to 1, and dense at 0, where the integrand falls by orders of magnitude within one mark.
PLACES = ((_NODES + 1.0) / 2.0) ** 2
PLACE_WEIGHTS = _WEIGHTS * (_NODES + 1.0) / 2.0


def share_log_density(
    marks: Any,
    share: Any,
    chance: Any,
    *,
    xp: Any = NUMPY,
) -> Any:
    """Log-density of the share of a pool's marks that counts, each by the same chance.

    The binomial of K σ out of K marks on a continuous scale, divided by its integral, and up to the
    factor K that a change from numbers to shares brings.

    Parameters
    ----------
    marks : array or tensor, shape (pool,)
        K, marks, in fish.
    share : array or tensor, shape (pool,)
        σ.
    chance : array or tensor
        Of a mark to count.
    xp : module
        The array library in use.

    Returns
    -------
    array or tensor, shape (pool,)
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

    The whole numbers sum to one, so the integral is one plus what it differs by from the sum. Where
    the binomial is wide the two agree; they differ where it is cut off, and marks are mostly kept:
    it is enough to compare them over the first few marks lost (Gauss–Legendre quadrature). Without
    a mark there is nothing to integrate, and the mass is one.

    Parameters
    ----------
    marks : array or tensor, shape (pool,)
        Whole numbers of marks.
    chance : array or tensor, shape (pool,) or broadcastable to it
        Of a mark to be kept, above 0 and below 1.
    xp : module
        The array library in use.

    Returns
    -------
    array or tensor, shape (pool,)
    """
    marks, chance = marks[..., None], chance[..., None]
    most = marks - (marks - LOST) * at_least_one(marks - LOST)

    def density(lost: Any) -> Any:
        return xp.exp(thinning_log_density(marks - lost, lost, chance, xp=xp))

    integral = ((most + 1.0) * PLACE_WEIGHTS * density((most + 1.0) * PLACES - HALF_FISH)).sum(-1)
    lost = np.arange(LOST + 1.0)
    # Beyond the last mark there is none to lose; any allowed number keeps the density finite.
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
    """Log-density of how many of kept + lost are kept, each by the same chance.

    The binomial on a continuous scale; with whole numbers it is SciPy's ``binom.logpmf``.

    Parameters
    ----------
    kept, lost : array or tensor
        In fish.
    chance : array or tensor
        Of one to be kept.
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
