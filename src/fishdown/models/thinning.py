"""Marks that count by chance, each by the same: the binomial on a continuous scale.

Sampling needs a density where the binomial has whole numbers: n stands for the stretch from n − ½
to n + ½. Where a mark is nearly sure to count, that density rises without bound in the half fish
above all marks, and no longer integrates to one by itself. Without dividing by its integral, as is
done here, sureness would be favoured for no reason in the records.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from scipy.special import gammaln as scipy_gammaln
from scipy.special import softplus as scipy_softplus

from fishdown.models.ledger import HALF_FISH

if TYPE_CHECKING:
    from collections.abc import Callable

# So many marks lost at the most are integrated one by one. Beyond, sum and integral of the binomial
# agree to 0.0013, whatever the chance.
LOST = 9
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(16)
# From 0 to 1, and dense at 0, where the integrand falls by orders of magnitude within one mark.
PLACES = ((_NODES + 1.0) / 2.0) ** 2
PLACE_WEIGHTS = _WEIGHTS * (_NODES + 1.0) / 2.0


def at_least_one(count: Any) -> Any:
    """Return 1 where a whole number is 1 or more, and 0 where it is 0 or less.

    Without a comparison: PyTensor's rewrites fail, at length, on a Boolean that is a factor.

    Parameters
    ----------
    count : float, array or tensor
        Whole numbers.
    """
    return (abs(count) - abs(count - 1.0) + 1.0) / 2.0


def share_range(marks: Any, smallest_share: Any) -> tuple[Any, Any]:
    """Return the ends of the shares of a pool's marks that may count.

    Half a fish beyond the fewest marks that were seen again, and beyond all of them: on the
    continuous scale a whole number stands for the stretch of half a fish to either side.

    Parameters
    ----------
    marks : array or tensor, shape (pool,)
        Marks, in fish.
    smallest_share : array or tensor, shape (pool,)
        Smallest share that the recaptures allow.
    """
    # A pool without marks has no share to speak of.
    half = HALF_FISH / (marks + 1.0 - at_least_one(marks))
    return smallest_share - half, 1.0 + half


def walk_scale(
    marks: Any, smallest_share: Any, chance: Any, *, log: Callable[[Any], Any] = np.log
) -> tuple[Any, Any, Any]:
    """Return the scale on which steps over a share are nearly standard normal.

    How near to all marks the share lies, and how narrowly, changes with the chance by orders of
    magnitude, which a walk over the share itself would have to follow. With W the most marks that
    can be lost, x of them lost are measured on the scale y = −(W + 1) ln(1 − (x + ½) / (W + 1)),
    which is near x + ½ itself and has no upper end, and y = d ln(1 + exp(c − step)).

    Parameters
    ----------
    marks, smallest_share : array or tensor, shape (pool,)
        As in `share_range`.
    chance : array or tensor, shape (pool,)
        Of a mark to count.
    log : callable
        Of the array library in use.

    Returns
    -------
    room, centre, spread : array or tensor, shape (pool,)
        W + 1, in fish; c; and d, in fish.
    """
    lower, upper = share_range(marks, smallest_share)
    room = (marks + 1.0 - at_least_one(marks)) * (upper - lower)
    lost = marks * (1.0 - chance)
    # More may be expected to be lost than can be; then nearly all are that can.
    left = room - lost - HALF_FISH
    left = (left + (left**2 + 4.0 * (lost + 1.0)) ** 0.5) / 2.0
    part_left = left / (left + lost + HALF_FISH)
    spread = (lost + 1.0) ** 0.5 / part_left
    return room, -room * log(part_left) / spread, spread


def share_at(
    step: Any,
    marks: Any,
    smallest_share: Any,
    chance: Any,
    *,
    log: Callable[[Any], Any] = np.log,
    exp: Callable[[Any], Any] = np.exp,
    softplus: Callable[[Any], Any] = scipy_softplus,
) -> tuple[Any, Any]:
    """Return the share that a step of the walk leads to.

    Parameters
    ----------
    step : array or tensor, shape (pool,)
        On the scale of `walk_scale`.
    marks, smallest_share, chance : array or tensor, shape (pool,)
        As in `walk_scale`.
    log, exp, softplus : callable
        ln, exp and ln(1 + exp) of the array library in use.

    Returns
    -------
    share : array or tensor, shape (pool,)
    log_slope : array or tensor, shape (pool,)
        Logarithm of the share's derivative by the step.
    """
    lower, upper = share_range(marks, smallest_share)
    room, centre, spread = walk_scale(marks, smallest_share, chance, log=log)
    way = spread * softplus(centre - step) / room
    share = lower + (upper - lower) * exp(-way)
    return share, log((upper - lower) * spread / room) - way - softplus(step - centre)


def share_log_density(
    marks: Any,
    share: Any,
    chance: Any,
    *,
    gammaln: Callable[[Any], Any] = scipy_gammaln,
    log: Callable[[Any], Any] = np.log,
    exp: Callable[[Any], Any] = np.exp,
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
    gammaln, log, exp : callable
        ln Γ, ln and exp of the array library in use.

    Returns
    -------
    array or tensor, shape (pool,)
    """
    counting = marks * share
    density = thinning_log_density(counting, marks - counting, chance, gammaln=gammaln, log=log)
    return density - log(thinning_mass(marks, chance, gammaln=gammaln, log=log, exp=exp))


def thinning_mass(
    marks: Any,
    chance: Any,
    *,
    gammaln: Callable[[Any], Any] = scipy_gammaln,
    log: Callable[[Any], Any] = np.log,
    exp: Callable[[Any], Any] = np.exp,
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
    gammaln, log, exp : callable
        ln Γ, ln and exp of the array library in use.

    Returns
    -------
    array or tensor, shape (pool,)
    """
    marks, chance = marks[..., None], chance[..., None]
    most = marks - (marks - LOST) * at_least_one(marks - LOST)

    def density(lost: Any) -> Any:
        return exp(thinning_log_density(marks - lost, lost, chance, gammaln=gammaln, log=log))

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
    gammaln: Callable[[Any], Any] = scipy_gammaln,
    log: Callable[[Any], Any] = np.log,
) -> Any:
    """Log-density of how many of kept + lost are kept, each by the same chance.

    The binomial on a continuous scale; with whole numbers it is SciPy's ``binom.logpmf``.

    Parameters
    ----------
    kept, lost : array or tensor
        In fish.
    chance : array or tensor
        Of one to be kept.
    gammaln, log : callable
        ln Γ and ln of the array library in use.
    """
    return (
        gammaln(kept + lost + 1.0)
        - gammaln(kept + 1.0)
        - gammaln(lost + 1.0)
        + kept * log(chance)
        + lost * log(1.0 - chance)
    )
