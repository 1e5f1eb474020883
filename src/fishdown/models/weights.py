"""Mean weight of a fish, from the fish that were weighed.

Weights of a season follow a gamma distribution with mean m and coefficient of variation v. Its
likelihood centres m on the sample mean whatever the true shape is, which is what biomass needs: a
log-normal would bend the mean to the shape it supposes. Three sums say all that the weights say.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from scipy.special import gammaln as scipy_gammaln

if TYPE_CHECKING:
    from collections.abc import Callable


def weights_log_density(
    weighed: Any,
    total: Any,
    total_log: Any,
    mean: Any,
    variation: Any,
    *,
    gammaln: Callable[[Any], Any] = scipy_gammaln,
    log: Callable[[Any], Any] = np.log,
) -> Any:
    """Log-density of the weighed fish of each season under a gamma distribution.

    Parameters
    ----------
    weighed : array or tensor, shape (season,)
        Number of fish weighed.
    total : array or tensor, shape (season,)
        Sum of their weights, kg.
    total_log : array or tensor, shape (season,)
        Sum of the natural logarithms of their weights in kg.
    mean : array or tensor, shape (season,)
        Mean weight m, kg.
    variation : array or tensor, broadcastable
        Coefficient of variation v of single weights; the gamma's shape is 1/v².
    gammaln, log : callable
        ln Γ and ln of the array library in use.

    Returns
    -------
    array or tensor, shape (season,)
    """
    shape = 1.0 / variation**2
    return (
        weighed * (shape * log(shape / mean) - gammaln(shape))
        + (shape - 1.0) * total_log
        - shape * total / mean
    )
