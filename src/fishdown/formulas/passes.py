"""Removal by two or more passes of equal effort."""

from __future__ import annotations

from math import isinf, sqrt
from typing import TYPE_CHECKING, Literal

import numpy as np

from fishdown.errors import DesignError
from fishdown.formulas.counts import check_level, least_whole
from fishdown.formulas.estimate import Estimate, joined
from fishdown.formulas.limits import normal_quantile
from fishdown.formulas.removal import Removal, limits_above

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import ArrayLike

Interval = Literal["profile", "normal"]

ENDLESS = 2**53
"""More fish than any lake holds: a limit beyond it is no limit."""


def two_passes(
    catches: ArrayLike, *, level: float = 0.9, interval: Interval = "profile"
) -> Estimate:
    """Estimate abundance from two removal passes.

    N = c₁²/(c₁ − c₂), p = 1 − c₂/c₁, with SE² = c₁² c₂² (c₁ + c₂)/(c₁ − c₂)⁴ of N and
    c₂ (c₁ + c₂)/c₁³ of p.

    Parameters
    ----------
    catches : array_like, shape (2,)
        Fish c₁ and c₂ removed by the two passes.
    level : float, default 0.9
        Confidence level.
    interval : {"profile", "normal"}
        Profile likelihood over whole N, which starts at the catch and may have no upper limit;
        or the estimate ± normal quantile × standard error, cut at the catch. Both are
        asymptotic: of 40 to 60 fish caught with p = 0.5 to 0.6, 90 % profile limits hold 87 to
        90 %, normal ones 83 to 87 % (exact sums); of 20 fish both hold less.

    Returns
    -------
    Estimate
        Abundance before the first pass, and catchability per pass.

    Raises
    ------
    DesignError
        If the second catch is not below the first.

    References
    ----------
    Seber, G.A.F. and E.D. Le Cren. 1967. Estimating population parameters from catches large
    relative to the population. Journal of Animal Ecology 36:631–643.
    """
    removal = Removal.read(catches, passes=2)
    first, second = (float(count) for count in removal.catches)
    N = first**2 / (first - second)
    p = 1 - second / first
    # Their condition for the formulas to hold well in small samples (from memory).
    small = N * p**3 <= 16 * (1 - p) ** 2 * (2 - p)
    return _estimate(
        removal,
        method="two passes",
        abundance=N,
        standard_error=first * second * sqrt(first + second) / (first - second) ** 2,
        catchability=p,
        catchability_se=sqrt(second * (first + second) / first**3),
        level=level,
        interval=interval,
        source="Seber & Le Cren 1967",
        note="too few fish for the formula to be near unbiased" if small else "",
    )


def three_passes(
    catches: ArrayLike, *, level: float = 0.9, interval: Interval = "profile"
) -> Estimate:
    """Estimate abundance from three removal passes in closed form.

    With X = 2c₁ + c₂ and Y = c₁ + c₂ + c₃,
    N = [6X² − 3XY − Y² + Y √(Y² + 6XY − 3X²)] / [18 (X − Y)] and p = Y/(3N − X), the maximum of
    the likelihood for large numbers. Standard errors are Zippin's.

    Parameters
    ----------
    catches : array_like, shape (3,)
        Fish removed by each pass.
    level, interval
        As for `two_passes`.

    Returns
    -------
    Estimate
        Abundance before the first pass, and catchability per pass.

    Raises
    ------
    DesignError
        Unless there are three passes and the third catch is below the first.

    References
    ----------
    Junge, C.O. and J. Libosvárský. 1965. Effects of size selectivity on population estimates
    based on successive removals with electrical fishing gear. Zoologické listy 14:171–178.
    """
    removal = Removal.read(catches, passes=3)
    X, Y = removal.earliness, removal.total
    root = sqrt(Y**2 + 6 * X * Y - 3 * X**2)
    N = (6 * X**2 - 3 * X * Y - Y**2 + Y * root) / (18 * (X - Y))
    standard_error, p_error = removal.errors(N)
    return _estimate(
        removal,
        method="three passes, closed form",
        abundance=N,
        standard_error=standard_error,
        catchability=removal.capture(N),
        catchability_se=p_error,
        level=level,
        interval=interval,
        source="Junge & Libosvárský 1965; variance Zippin 1956",
    )


def k_passes(catches: ArrayLike, *, level: float = 0.9, interval: Interval = "profile") -> Estimate:
    """Estimate abundance from k removal passes by maximum likelihood over whole N.

    Parameters
    ----------
    catches : array_like, shape (k,)
        Fish removed by each pass, k ≥ 2.
    level, interval
        As for `two_passes`.

    Returns
    -------
    Estimate
        Abundance before the first pass, and catchability per pass.

    Raises
    ------
    DesignError
        If catches do not decline overall.

    References
    ----------
    Moran, P.A.P. 1951. A mathematical theory of animal trapping. Biometrika 38:307–311.
    Zippin, C. 1956. An evaluation of the removal method of estimating animal populations.
    Biometrics 12:163–189.
    Zippin, C. 1958. The removal method of population estimation. Journal of Wildlife Management
    22:82–90.
    """
    removal = Removal.read(catches)
    N = removal.most_likely()
    standard_error, p_error = removal.errors(N)
    return _estimate(
        removal,
        method=f"{removal.passes} passes, maximum likelihood",
        abundance=float(N),
        standard_error=standard_error,
        catchability=removal.capture(N),
        catchability_se=p_error,
        level=level,
        interval=interval,
        source="Moran 1951; Zippin 1956, 1958",
    )


def weighted_passes(
    catches: ArrayLike,
    *,
    prior: tuple[float, float] = (1.0, 1.0),
    level: float = 0.9,
    interval: Interval = "profile",
) -> Estimate:
    """Estimate abundance from k removal passes with a beta-weighted likelihood.

    The probability of capture is averaged over a beta distribution; N is the least whole number
    from T on at which (N + 1)/(N − T + 1) × Π_i [(k N − X − T + β + k − i)/(k N − X + α + β + k
    − i)] ≤ 1. The formula would give an estimate even where catches do not decline, but then the
    prior alone holds the answer, so it is refused there like the others. Standard errors are
    Zippin's.

    Parameters
    ----------
    catches : array_like, shape (k,)
        Fish removed by each pass, k ≥ 2.
    prior : tuple of float, default (1, 1)
        Weights α and β of the beta distribution.
    level : float, default 0.9
        Confidence level.
    interval : {"profile", "normal"}
        Where the weighted log-likelihood is within half a chi-squared quantile of its best; or
        as for `two_passes`.

    Returns
    -------
    Estimate
        Abundance before the first pass, and catchability per pass.

    Raises
    ------
    DesignError
        If catches do not decline overall, or a weight is not positive.

    References
    ----------
    Carle, F.L. and M.R. Strub. 1978. A new method for estimating population size from removal
    data. Biometrics 34:621–630.
    """
    removal = Removal.read(catches)
    alpha, beta = prior
    if alpha <= 0 or beta <= 0:
        raise DesignError(f"both weights of the beta distribution must be positive: {prior}")
    T, k, X = removal.total, removal.passes, removal.earliness
    later = np.arange(k - 1, -1, -1)

    def rises(N: int) -> bool:
        chances = k * N - X + beta + later
        ratio = np.log((N + 1) / (N + 1 - T)) + np.log((chances - T) / (chances + alpha)).sum()
        return bool(ratio > 0)

    def height(N: int) -> float:
        from scipy.special import betaln

        ways = np.log(float(N) - np.arange(T)).sum()
        return float(ways + betaln(T + alpha, k * N - X - T + beta))

    def weighted_limits() -> tuple[float, float]:
        cut = height(N) - normal_quantile(level) ** 2 / 2
        return limits_above(height, T, N, cut, endless=height(ENDLESS) >= cut)

    N = least_whole(lambda N: not rises(N), T)
    standard_error, p_error = removal.errors(N)
    return _estimate(
        removal,
        method=f"{k} passes, weighted likelihood",
        abundance=float(N),
        standard_error=standard_error,
        catchability=removal.capture(N),
        catchability_se=p_error,
        level=level,
        interval=interval,
        source="Carle & Strub 1978; variance Zippin 1956",
        limits=weighted_limits,
    )


def _estimate(
    removal: Removal,
    *,
    method: str,
    abundance: float,
    standard_error: float,
    catchability: float,
    catchability_se: float,
    level: float,
    interval: Interval,
    source: str,
    note: str = "",
    limits: Callable[[], tuple[float, float]] | None = None,
) -> Estimate:
    check_level(level)
    if interval == "normal":
        half_width = normal_quantile(level) * standard_error
        low, high = max(float(removal.total), abundance - half_width), abundance + half_width
        made = "normal, not below the catch"
    elif limits is None:
        low, high = removal.profile_limits(level)
        made = "profile likelihood over whole fish"
    else:
        low, high = limits()
        made = "weighted likelihood over whole fish"
    return Estimate(
        method=method,
        abundance=abundance,
        standard_error=standard_error,
        low=low,
        high=high,
        level=level,
        interval=made,
        catchability=catchability,
        catchability_se=catchability_se,
        source=source,
        note=joined(
            note,
            "the decline is too weak for an upper limit" if isinf(high) else "",
            removal.misfit(abundance),
        ),
    )
