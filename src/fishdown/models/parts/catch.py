"""The share of the lake's fish that a pull takes, and the density of the catch.

Effects act on the hazard h, with catchability q = 1 − exp(−h). They multiply h, so q stays
between 0 and 1 whatever the effects; for the shares of a lake's fish that nets take (a few
percent) h and q differ by less than half of q.
"""

from __future__ import annotations

from typing import Any

from fishdown.models.array_library import NUMPY
from fishdown.models.part import ByLake, Parameter, Part, with_catches

SCHOOLING_BY_LAKE = ByLake("schooling_spread")
CATCH = Part(
    name="catch",
    choices={"schooling": ("schooling", "schooling_spread"), "chance": ()},
    parameters={
        "schooling": Parameter(
            "variation between pulls of the share of fish caught",
            label="coefficient of variation",
            by_lake=SCHOOLING_BY_LAKE,
        ),
        "schooling_spread": Parameter(
            "spread of that variation between lakes, on the log scale", among_lakes=True
        ),
    },
    applies=with_catches,
)


def beta_shape(hazard: Any, schooling: Any, *, xp: Any = NUMPY) -> Any:
    """Return the parameters of the beta distribution of the share that a pull takes.

    Its mean is q = 1 − exp(−h). With schooling s the parameters are
    a = (1 − q)/s² and b = (1 − q)²/(q s²); the coefficient of variation of the share is then
    s √((1 − q)/(1 − q + q s²)), that is, s itself while q is small, and never too large for a beta
    distribution.

    Parameters
    ----------
    hazard : array or tensor
        h, dimensionless, > 0.
    schooling : array or tensor
        s, dimensionless, > 0.
    xp : module
        The array library in use.

    Returns
    -------
    a, b : arrays or tensors
        Parameters of the beta distribution.
    """
    missed = xp.exp(-hazard)
    a = missed / schooling**2
    return a, a * missed / (1.0 - missed)


def schooling_log_density(
    caught: Any,
    before: Any,
    a: Any,
    b: Any,
    *,
    xp: Any = NUMPY,
) -> Any:
    """Log-density of a catch of schooling fish, without its binomial coefficient.

    ln B(C + a, N − C + b) − ln B(a, b), the beta-binomial of Skellam (1948, J. R. Stat. Soc. B
    10:257–261); the coefficient ln C(N, C) is among the counting terms, where it telescopes.

    Parameters
    ----------
    caught : array or tensor, shape (pull,)
        C, in fish.
    before : array or tensor, shape (pull,)
        N, fish in the lake before the pull.
    a, b : array or tensor, shape (pull,)
        From `beta_shape`.
    xp : module
        The array library in use.

    Returns
    -------
    array or tensor, shape (pull,)
    """
    return (
        xp.gammaln(caught + a)
        - xp.gammaln(a)
        + xp.gammaln(before - caught + b)
        - xp.gammaln(b)
        - xp.gammaln(before + a + b)
        + xp.gammaln(a + b)
    )


def catch_log_density(
    caught: Any, before: Any, hazard: Any, schooling: Any, *, xp: Any = NUMPY
) -> Any:
    """Log-density of a catch, without its binomial coefficient.

    `chance_log_density`, or `schooling_log_density` where there is a schooling (not None).
    """
    if schooling is None:
        return chance_log_density(caught, before, hazard, xp=xp)
    a, b = beta_shape(hazard, schooling, xp=xp)
    return schooling_log_density(caught, before, a, b, xp=xp)


def chance_log_density(
    caught: Any,
    before: Any,
    hazard: Any,
    *,
    xp: Any = NUMPY,
) -> Any:
    """Log-density of a catch of fish caught independently, without its binomial coefficient.

    C ln q − (N − C) h, the binomial with q = 1 − exp(−h).

    Parameters
    ----------
    caught, before : array or tensor, shape (pull,)
        C and N, in fish.
    hazard : array or tensor, shape (pull,)
        h, dimensionless.
    xp : module
        The array library in use.

    Returns
    -------
    array or tensor, shape (pull,)
    """
    return caught * xp.log1mexp(-hazard) - (before - caught) * hazard
