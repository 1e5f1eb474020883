"""Mean weight of a fish, from fish weighed and fish with a length only.

Weights of a season, or of one weighing, follow a gamma distribution with mean m and coefficient of
variation v. Its likelihood centres m on the sample mean whatever the true shape is, as biomass
needs; the mean of a log-normal depends on the assumed shape. Three sums are sufficient.

Lengths enter through ln W = α + b x + error, x = ln L less its mean over fish with both. Then the
mean weight at a fish's length is gamma, and the error comes on top. Sums are sufficient again, so
that the cost of either density does not depend on the number of fish.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from scipy.special import factorial

from fishdown.models.array_library import NUMPY

if TYPE_CHECKING:
    from fishdown.typing import FloatArray, IntArray

# Weight is about proportional to the cube of length; the series in b − 3 has this order.
USUAL_EXPONENT = 3.0
ORDER = 8


def weights_log_density(
    weighed: Any,
    total: Any,
    total_log: Any,
    mean: Any,
    variation: Any,
    *,
    lake: Any = None,
    xp: Any = NUMPY,
) -> Any:
    """Log-density of the weighed fish of each weighing under a gamma distribution.

    Parameters
    ----------
    weighed : array or tensor, shape (weighing,)
        Number of fish weighed.
    total : array or tensor, shape (weighing,)
        Sum of their weights, kg.
    total_log : array or tensor, shape (weighing,)
        Sum of the natural logarithms of their weights in kg.
    mean : array or tensor, shape (weighing,)
        Mean weight m, kg.
    variation : array or tensor, broadcastable
        Coefficient of variation v of single weights; the gamma's shape is 1/v².
    lake : array or tensor of int, shape (weighing,), optional
        Where `variation` has the value of each weighing, if it has one a lake: ln Γ is costly.
    xp : module
        The array library in use.

    Returns
    -------
    array or tensor, shape (weighing,)
    """
    shape = 1.0 / variation**2
    scale = shape * xp.log(shape) - xp.gammaln(shape)
    if lake is not None:
        shape, scale = shape[lake], scale[lake]
    return (
        weighed * (scale - shape * xp.log(mean)) + (shape - 1.0) * total_log - shape * total / mean
    )


def weight_log_density_at_length(
    pairs: Any,
    mean_log_length: Any,
    mean_log_weight: Any,
    squares: Any,
    intercept: Any,
    exponent: Any,
    scatter: Any,
    *,
    xp: Any = NUMPY,
) -> Any:
    """Log-density of the logarithms of weights, given lengths, under ln W = α + b x + error.

    The normal linear regression of ln W on x, the centred ln length. Sums about the means are
    sufficient, and do not cancel where fish are many.

    Parameters
    ----------
    pairs : array or tensor, shape (lake,)
        Number of fish with both length and weight.
    mean_log_length, mean_log_weight : array or tensor, shape (lake,)
        Means of x and of ln W (kg) over them; 0 where there are none.
    squares : array or tensor, shape (3, lake)
        Sums of (x − x̄)², of (x − x̄)(ln W − mean) and of (ln W − mean)².
    intercept : array or tensor, shape (lake,)
        α, the logarithm of the typical weight at x = 0, kg.
    exponent, scatter : array or tensor, broadcastable
        b, and the standard deviation of the error.
    xp : module
        The array library in use.

    Returns
    -------
    array or tensor, shape (lake,)
    """
    off = mean_log_weight - intercept - exponent * mean_log_length
    misfit = pairs * off**2 + squares[2] - 2.0 * exponent * squares[1] + exponent**2 * squares[0]
    return -pairs * (xp.log(scatter) + 0.5 * np.log(2.0 * np.pi)) - 0.5 * misfit / scatter**2


def power_sums(centred_log_length: FloatArray, weighing: IntArray, weighings: int) -> FloatArray:
    """Return the sums from which `sum_of_powers` gives Σ exp(b x) for any exponent b.

    Parameters
    ----------
    centred_log_length : ndarray, shape (fish,)
        x.
    weighing : ndarray of int, shape (fish,)
        Position of each fish's weighing.
    weighings : int
        How many there are.

    Returns
    -------
    ndarray, shape (ORDER + 1, weighing)
        Σ xʲ exp(3 x) / j! for j = 0, 1, …
    """
    order = np.arange(ORDER + 1)[:, None]
    terms = centred_log_length**order * np.exp(USUAL_EXPONENT * centred_log_length)
    sums = np.stack([np.bincount(weighing, row, weighings) for row in terms])
    series: FloatArray = sums / factorial(order)
    return series


def sum_of_powers(sums: Any, exponent: Any) -> Any:
    """Return Σ exp(b x) of each weighing from its `power_sums`.

    The Taylor series of exp((b − 3) x). It ends with an even power, so that it stays positive
    whatever b is. For b between 2.5 and 3.5 and lengths within a factor of 5 of the centre its
    relative error is below 1e-5.

    Parameters
    ----------
    sums : array or tensor, shape (ORDER + 1, weighing)
    exponent : float or tensor
        b.

    Returns
    -------
    array or tensor, shape (weighing,)
    """
    total = sums[ORDER]
    for order in range(ORDER - 1, -1, -1):
        total = sums[order] + (exponent - USUAL_EXPONENT) * total
    return total


def lengths_log_density(
    measured: Any,
    total_log_length: Any,
    sums: Any,
    log_expected: Any,
    exponent: Any,
    mean: Any,
    variation: Any,
    *,
    lake: Any = None,
    xp: Any = NUMPY,
) -> Any:
    """Log-density of the centred ln lengths of a weighing with gamma mean weights at length.

    A fish of centred ln length x weighs z = exp(β + b x) on average. The z of a weighing follow a
    gamma distribution of mean m and coefficient of variation v; the density of x is that of z
    times dz/dx = b z.

    Parameters
    ----------
    measured : array or tensor, shape (weighing,)
        Number of fish with a length.
    total_log_length : array or tensor, shape (weighing,)
        Σ x.
    sums : array or tensor, shape (ORDER + 1, weighing)
        From `power_sums`.
    log_expected : array or tensor, shape (weighing,)
        β = α + ½ scatter², the logarithm of the mean weight of fish with x = 0, kg.
    exponent : array or tensor
        b > 0.
    mean, variation : array or tensor
        m (kg) of each weighing, and v.
    lake : array or tensor of int, shape (weighing,), optional
        As for `weights_log_density`.
    xp : module
        The array library in use.

    Returns
    -------
    array or tensor, shape (weighing,)
    """
    total_log = measured * log_expected + exponent * total_log_length
    total = xp.exp(log_expected) * sum_of_powers(sums, exponent)
    z = weights_log_density(measured, total, total_log, mean, variation, lake=lake, xp=xp)
    return z + measured * xp.log(exponent) + total_log


def alike_log_factor(
    shapes: Any,
    load: Any,
    spread: Any,
    *,
    xp: Any = NUMPY,
) -> Any:
    """Log of the factor on the density of a weighing if its fish share a factor of their mean.

    Multiplying the mean m by u changes the gamma density of the fish by u^(−S) exp(Q − Q/u). The
    expectation of that over an inverse gamma u of mean 1 and coefficient of variation ω, with
    a = 2 + 1/ω², is e^Q Γ(a + S) / Γ(a) (a − 1)^a (a − 1 + Q)^(−a − S) (`models/README.md`, "Fish
    weighed from catches").

    Parameters
    ----------
    shapes : array or tensor, shape (weighing,)
        S, the sum over its fish of the gamma's shape 1/v².
    load : array or tensor, shape (weighing,)
        Q, the sum over its fish of weight / (v² m).
    spread : array or tensor, broadcastable
        ω > 0; as it goes to 0 the factor goes to 1.
    xp : module
        The array library in use.

    Returns
    -------
    array or tensor, shape (weighing,)
    """
    a = 2.0 + spread**-2
    # Of large terms that nearly cancel when ω is small: the logarithm of a ratio, not a difference.
    moved = a * xp.log1p(load / (a - 1.0))
    return load + xp.gammaln(a + shapes) - xp.gammaln(a) - shapes * xp.log(a - 1.0 + load) - moved


def variation_with_scatter(
    variation: Any,
    scatter: Any,
    *,
    xp: Any = NUMPY,
) -> Any:
    """Return the coefficient of variation of weights whose means at length vary by v.

    W = z e with z and e independent and e log-normal of mean 1: 1 + v_W² = (1 + v²) exp(scatter²).

    Parameters
    ----------
    variation, scatter : array or tensor
        v, and the standard deviation of ln e.
    xp : module
        The array library in use.
    """
    return ((1.0 + variation**2) * xp.exp(scatter**2) - 1.0) ** 0.5


def log_weight_of_condition(log_condition: Any, log_length: float) -> Any:
    """Return ln W (kg) of a fish with condition factor K = 10⁵ W[g] / L[mm]³ at a length.

    Fulton's form of the factor (common practice, no source).
    """
    return log_condition + 3.0 * log_length - 8.0 * np.log(10.0)
