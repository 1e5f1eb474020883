"""Marks that are used up: which of those at large by the records are still there to be caught.

A mark that was lost before netting is caught by no pull and stays at large in the records, while
the others are taken one by one. Of the marks not seen yet, more and more are lost ones.
"""

from __future__ import annotations

from typing import Any

from fishdown.models.array_library import NUMPY

# Of the fish at release, left at the least: its logarithm stays finite.
_LEAST_LEFT = 1e-6
# A pull that takes every fish takes every mark: no odds are left.
_MOST_TAKEN = 1.0 - 1e-6


def share_left(gone: Any, fish: Any, *, xp: Any = NUMPY) -> Any:
    """Return the share of the fish that nets have left, of so many before them."""
    # Where more fish were stocked than taken, none counts as taken.
    return xp.minimum(xp.maximum(1.0 - gone / fish, _LEAST_LEFT), 1.0)


def still_there(there: Any, left: Any, odds: Any, *, xp: Any = NUMPY) -> Any:
    """Return the probability that a mark not seen yet is there to be caught.

    A mark is there with probability p, and then escapes the nets with probability s = left^odds; by
    Bayes' rule, of those not seen, p s / (1 − p + p s) are there.

    Parameters
    ----------
    there : array or tensor
        p: share of the marks kept, seen, and on a living fish, at release.
    left : array or tensor
        Share of the unmarked fish that nets have left since then.
    odds : array or tensor
        Capture odds of a marked to an unmarked fish, as relative hazard.
    xp : module
        The array library in use.
    """
    escaped = there * xp.exp(odds * xp.log(left))
    return escaped / (1.0 - there + escaped)


def odds_of_mark(visible: Any, odds: Any, taken: Any, present: Any, *, xp: Any = NUMPY) -> Any:
    """Return the odds of a mark at large by the records to an unmarked fish, to be in a catch.

    With q the share of the fish that a pull takes, a marked fish that is there is in the catch by
    the odds ω q / (1 − q), and a mark that is there only with probability v by v times that
    probability: v ω (1 − q) / (1 − q + ω q (1 − v)) is the ratio of its odds to those of an
    unmarked fish. Given the catch, marks are noncentral hypergeometric by it (Fisher 1935).

    Parameters
    ----------
    visible : array or tensor
        v, from `still_there`.
    odds : array or tensor
        ω: capture odds of a marked to an unmarked fish.
    taken, present : array or tensor
        Fish in the catch, and in the lake before it.
    """
    share = xp.minimum(taken / xp.maximum(present, taken + _LEAST_LEFT), _MOST_TAKEN)
    left = 1.0 - share
    return visible * odds * left / (left + odds * share * (1.0 - visible))
