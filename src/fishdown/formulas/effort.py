"""Removal with effort: catch per unit effort against cumulative catch or cumulative effort."""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, sqrt
from typing import TYPE_CHECKING

import numpy as np

from fishdown.equality import by_value
from fishdown.errors import DesignError
from fishdown.formulas.counts import as_amounts, as_counts, check_level
from fishdown.formulas.estimate import Estimate, fish
from fishdown.formulas.line import Line, crossing_limits, log_ratio_limits

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray


@by_value
@dataclass(frozen=True)
class _Fishing:
    """Catches, efforts and removals in time order, checked."""

    catch: NDArray[np.float64]
    effort: NDArray[np.float64]
    removed: NDArray[np.float64]

    @classmethod
    def read(
        cls, catches: ArrayLike, efforts: ArrayLike, removed: ArrayLike | None = None
    ) -> _Fishing:
        catch = as_counts(catches, "catches")
        effort = as_amounts(efforts, "efforts", like=catch)
        taken = catch
        if removed is not None:
            taken = as_amounts(as_counts(removed, "fish removed"), "removals", like=catch)
        if ((effort == 0) & (catch > 0)).any():
            raise DesignError("a catch without effort gives no catch per effort")
        fished = int((effort > 0).sum())
        if fished < 3:
            raise DesignError(
                f"{fished} point{'s' if fished != 1 else ''} of catch per effort: a line with an "
                "error needs 3 or more"
            )
        if not catch.any():
            raise DesignError("no fish were caught")
        return cls(catch, effort, taken)

    @property
    def fished(self) -> NDArray[np.bool_]:
        return self.effort > 0

    @property
    def rate(self) -> NDArray[np.float64]:
        return self.catch[self.fished] / self.effort[self.fished]

    def earlier(self, amount: NDArray[np.float64], half_of_own: bool) -> NDArray[np.float64]:
        """Sum an amount over earlier steps, plus half of the step's own when asked."""
        before = np.cumsum(amount) - amount
        if half_of_own:
            before = before + amount / 2
        return before[self.fished]


def leslie(
    catches: ArrayLike,
    efforts: ArrayLike,
    *,
    removed: ArrayLike | None = None,
    half_catch: bool = False,
    level: float = 0.9,
) -> Estimate:
    """Estimate abundance by the line of catch per effort on the catch taken before.

    C/f = q N₀ − q K, so q is the slope and N₀ the K at which the line reaches zero. The limits
    are Fieller's: they stay honest when the slope is weak, with no upper limit if it is not
    clearly negative. The standard error is the delta method's.

    Parameters
    ----------
    catches : array_like, shape (n,)
        Catch C of each step in time order (fish), by nets that fished properly.
    efforts : array_like, shape (n,)
        Effort f of each step, for example pulls. A step of no effort is no point of the line.
    removed : array_like, shape (n,), optional
        Fish taken out of the lake in each step, where it differs from the catch: fish released
        again are not removed, fish from a net that failed are. K adds these up.
    half_catch : bool, default False
        Ricker's form: K counts half of the step's own removal as well.
    level : float, default 0.9
        Confidence level.

    Returns
    -------
    Estimate
        Abundance before the first step, and catchability per unit of effort.

    Raises
    ------
    DesignError
        If there are fewer than 3 points, catch per effort does not decline, or the line reaches
        zero before the fish that were in fact removed.

    References
    ----------
    Leslie, P.H. and D.H.S. Davis. 1939. An attempt to determine the absolute number of rats on a
    given area. Journal of Animal Ecology 8:94–113.
    Ricker, W.E. 1975. Computation and interpretation of biological statistics of fish
    populations. Bulletin of the Fisheries Research Board of Canada 191, chapter 6 (half catch).
    Seber, G.A.F. 1982. The estimation of animal abundance, 2nd ed. Griffin, section 7.3
    (variance; from memory).
    Fieller, E.C. 1954. Some problems in interval estimation. Journal of the Royal Statistical
    Society B 16:175–185.
    """
    check_level(level)
    fishing = _Fishing.read(catches, efforts, removed)
    K = fishing.earlier(fishing.removed, half_catch)
    if np.ptp(K) == 0:
        raise DesignError("no fish were removed between the points, so nothing was depleted")
    line = _falling(K, fishing.rate, "catch per effort does not decline with cumulative catch")
    taken = float(fishing.removed.sum())
    N = line.intercept / -line.slope
    _check_possible(N, taken)
    low, high = crossing_limits(line, level)
    spread = 1 / line.points + (N - line.mean_x) ** 2 / line.spread
    return Estimate(
        method="Leslie, catch on cumulative catch" + (" (half catch)" if half_catch else ""),
        abundance=N,
        standard_error=line.residual / -line.slope * sqrt(spread),
        low=max(low, taken),
        high=high,
        level=level,
        interval="Fieller, not below the catch",
        catchability=-line.slope,
        catchability_se=line.slope_se,
        source="Leslie & Davis 1939" + ("; Ricker 1975" if half_catch else ""),
        note=_weak(high),
    )


def log_catch_per_effort(
    catches: ArrayLike, efforts: ArrayLike, *, half_effort: bool = False, level: float = 0.9
) -> Estimate:
    """Estimate abundance by the line of log catch per effort on the effort fished before.

    ln(C/f) = ln(q N₀) − q E, so q is the slope and N₀ = exp(intercept)/q. Every fish that leaves
    must leave by the effort counted: with fish released again, or taken by nets that failed, use
    `leslie`. The limits follow N₀ along the confidence ellipse of the line; the standard error is
    the delta method's.

    Parameters
    ----------
    catches : array_like, shape (n,)
        Catch C of each step in time order (fish).
    efforts : array_like, shape (n,)
        Effort f of each step, for example pulls.
    half_effort : bool, default False
        Braaten's form: E counts half of the step's own effort as well.
    level : float, default 0.9
        Confidence level.

    Returns
    -------
    Estimate
        Abundance before the first step, and catchability per unit of effort.

    Raises
    ------
    DesignError
        If there are fewer than 3 points, a step caught nothing (its logarithm does not exist),
        catch per effort does not decline, or the answer is below the catch.

    References
    ----------
    DeLury, D.B. 1947. On the estimation of biological populations. Biometrics 3:145–167.
    Braaten, D.O. 1969. Robustness of the DeLury population estimator. Journal of the Fisheries
    Research Board of Canada 26:339–355 (half effort; pages from memory).
    """
    check_level(level)
    fishing = _Fishing.read(catches, efforts)
    rate = fishing.rate
    empty = int((rate == 0).sum())
    if empty:
        raise DesignError(
            f"{empty} of {rate.size} points caught nothing, and a catch of 0 has no logarithm"
        )
    E = fishing.earlier(fishing.effort, half_effort)
    line = _falling(
        E, np.log(rate), "the log of catch per effort does not decline with cumulative effort"
    )
    q = -line.slope
    N = exp(line.intercept) / q
    taken = float(fishing.catch.sum())
    _check_possible(N, taken)
    low, high = log_ratio_limits(line, level)
    # d ln N = d mean + (mean of E − 1/q) dq; the mean and the slope of a line are uncorrelated.
    variance = line.residual**2 / line.points + ((line.mean_x - 1 / q) * line.slope_se) ** 2
    return Estimate(
        method="DeLury, log catch on cumulative effort" + (" (half effort)" if half_effort else ""),
        abundance=N,
        standard_error=N * sqrt(variance),
        low=max(low, taken),
        high=high,
        level=level,
        interval="profile t, not below the catch",
        catchability=q,
        catchability_se=line.slope_se,
        source="DeLury 1947" + ("; Braaten 1969" if half_effort else ""),
        note=_weak(high),
    )


def _falling(x: NDArray[np.float64], y: NDArray[np.float64], rises: str) -> Line:
    line = Line.through(x, y)
    if line.slope >= 0:
        raise DesignError(f"{rises} (slope {line.slope:+.2g})")
    return line


def _check_possible(N: float, taken: float) -> None:
    if taken > N:
        raise DesignError(
            f"the line reaches zero at {fish(N)} fish, but {fish(taken)} were removed: "
            "catch per effort does not decline along a straight line"
        )


def _weak(high: float) -> str:
    return "the decline is too weak for an upper limit" if np.isinf(high) else ""
