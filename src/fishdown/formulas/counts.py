"""Checks of counts, and the search over whole numbers that the exact formulas share."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fishdown.errors import DesignError

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import ArrayLike, NDArray


def as_counts(values: ArrayLike, what: str) -> NDArray[np.float64]:
    """Return whole numbers of fish as floats; refuse a negative, missing or broken one.

    Raises
    ------
    DesignError
        Naming `what` the numbers count.
    """
    counts = _as_amounts(values, what)
    broken = counts[counts != np.round(counts)]
    if broken.size:
        raise DesignError(f"{what} must be whole numbers of fish: got {_listed(broken)}")
    return counts


def as_count(value: float, what: str) -> int:
    """Return one whole number of fish, checked like `as_counts`."""
    return int(as_counts([value], what)[0])


def as_amounts(values: ArrayLike, what: str, like: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return amounts that need not be whole, such as effort, as floats.

    Raises
    ------
    DesignError
        If one is negative or missing, or if they are not as many as `like`.
    """
    amounts = _as_amounts(values, what)
    if amounts.shape != like.shape:
        raise DesignError(f"{amounts.size} {what} were given for {like.size} catches")
    return amounts


def check_level(level: float) -> None:
    """Refuse a confidence level that does not lie between 0 and 1."""
    if not 0 < level < 1:
        raise DesignError(
            f"the confidence level must lie between 0 and 1, for example 0.9: {level}"
        )


def least_whole(condition: Callable[[int], bool], start: int) -> int:
    """Find the least whole number from `start` on at which a condition holds.

    Once true it must stay true: the stride is doubled, then the bracket halved.
    """
    if condition(start):
        return start
    stride = 1
    while not condition(start + stride):
        stride *= 2
    false, true = start + stride // 2, start + stride
    while true - false > 1:
        middle = (false + true) // 2
        false, true = (false, middle) if condition(middle) else (middle, true)
    return true


def _as_amounts(values: ArrayLike, what: str) -> NDArray[np.float64]:
    amounts = np.atleast_1d(np.asarray(values, dtype=np.float64))
    if amounts.ndim != 1:
        raise DesignError(f"{what} must be one list of numbers, not a table {amounts.shape}")
    broken = amounts[~np.isfinite(amounts) | (amounts < 0)]
    if broken.size:
        raise DesignError(f"{what} must be numbers of 0 or more: got {_listed(broken)}")
    return amounts


def _listed(values: NDArray[np.float64]) -> str:
    return ", ".join(f"{value:g}" for value in values)
