"""Whole numbers of fish on the continuous scale of a sampler."""

from __future__ import annotations

from typing import Any

# The number n stands for the interval from n − ½ to n + ½, so the support begins half a fish below
# the smallest possible number.
HALF_FISH = 0.5


def at_least_one(count: Any) -> Any:
    """Return 1 where a whole number is 1 or more, and 0 where it is 0 or less.

    Without a comparison: PyTensor's rewrites fail, at length, on a Boolean that is a factor.

    Parameters
    ----------
    count : float, array or tensor
        Whole numbers.
    """
    return (abs(count) - abs(count - 1.0) + 1.0) / 2.0
