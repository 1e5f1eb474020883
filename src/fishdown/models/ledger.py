"""The counting part of the log-density: which fish could have been in which catch.

All factorials of a season have the form ln Γ(a U₀ + k σ − o + 1): U₀ are the unmarked fish before
the first pull, σ the share of the marks that counts (1 unless marks may be lost or marked fish out
of reach), and a (0 or 1), k and o are known from the records. Each occurs with a whole-number
weight, and the weights of successive pulls cancel where nothing but the pull itself changed the
lake. What is left is short, however many pulls were made: in a plain season two terms.
`models/README.md`, section "Counting", has the derivation.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from scipy.special import gammaln as scipy_gammaln

if TYPE_CHECKING:
    from collections.abc import Callable

    from fishdown.typing import Evidence, FloatArray


@dataclass(frozen=True)
class Ledger:
    """Log-factorials of one season.

    Attributes
    ----------
    unmarked : ndarray, shape (term,)
        a, 1 where the term contains the unmarked fish, else 0.
    marks : ndarray, shape (term,)
        k, marks, in fish; 0 throughout if all marks count.
    offsets : ndarray, shape (term,)
        o, known fish numbers.
    weights : ndarray, shape (term,)
        Whole-number weight of the log-factorial.
    constant : float
        The factorials that contain no unknown.
    bound : float
        Smallest number of unmarked fish before the first pull that the records allow.
    marks_at_start : float
        Marked fish at large before the first pull, if all marks count.
    smallest_share : float
        Smallest σ that the recaptures allow.
    """

    unmarked: FloatArray
    marks: FloatArray
    offsets: FloatArray
    weights: FloatArray
    constant: float
    bound: float
    marks_at_start: float
    smallest_share: float


def season_ledger(
    caught: FloatArray,
    recaptured: FloatArray,
    marks_at_large: FloatArray,
    marks_removed: FloatArray,
    gone_before: FloatArray,
    spoiled: np.ndarray[Any, np.dtype[np.bool_]],
    *,
    gone: float,
    marks_left: float,
    evidence: Evidence = "both",
    all_marks_count: bool = True,
) -> Ledger:
    """Collect the log-factorials of one season and cancel what cancels.

    Parameters
    ----------
    caught : ndarray, shape (pull,)
        Target fish in each pull.
    recaptured : ndarray, shape (pull,)
        Marked fish among them; NaN where the catch was not looked at.
    marks_at_large, marks_removed : ndarray, shape (pull,)
        Marked fish in the lake just before the pull, and taken out by it.
    gone_before : ndarray, shape (pull,)
        Fish that left the lake since the season's start (removed or dead) before the pull.
    spoiled : ndarray of bool, shape (pull,)
        The net failed: the catch counts, but the pull says nothing about catchability.
    gone, marks_left : float
        Fish gone and marked fish still at large at the season's end.
    evidence : {"both", "marks", "depletion"}
        Which part of the records speaks: marks alone (recaptures given the catches), depletion
        alone (catches, whatever marks they carry), or both.
    all_marks_count : bool
        Take σ as 1, which cancels more.

    Returns
    -------
    Ledger
    """
    if evidence == "depletion":
        # Nobody knows of marks: all fish are unmarked fish.
        marks_at_large = marks_removed = np.zeros_like(caught)
        marks_left = 0.0
    removed_before = np.cumsum(marks_removed) - marks_removed
    released_before = marks_at_large + removed_before
    removed = float(marks_removed.sum())
    at_start = float(released_before[0]) if len(caught) else marks_left
    book = _Book(all_marks_count=all_marks_count)
    bound = gone - removed + (marks_left + removed - at_start)
    smallest_share = 0.0

    for C, R, r, K, G, is_spoiled in zip(
        caught, recaptured, removed_before, released_before, gone_before, spoiled, strict=True
    ):
        marks_speak = evidence != "depletion" and not np.isnan(R)
        catch_speaks = evidence != "marks" and not is_spoiled
        if marks_speak:
            book.choose(0.0, K, r, R, +1)
            book.choose(1.0, at_start - K, G - r, C - R, +1)
            bound = max(bound, G - r + C - R + K - at_start)
            if K > 0:
                smallest_share = max(smallest_share, (r + R) / K)
            if not catch_speaks:
                book.choose(1.0, at_start, G, C, -1)
        else:
            bound = max(bound, G + C - at_start)
            if catch_speaks:
                book.choose(1.0, at_start, G, C, +1)
    return book.close(bound, at_start, smallest_share)


class _Book:
    """Log-factorials by what they contain, with the weights that they have added up to."""

    def __init__(self, *, all_marks_count: bool) -> None:
        self._all_marks_count = all_marks_count
        self._weights: Counter[tuple[float, float, float]] = Counter()
        self._constant = 0.0

    def choose(self, unmarked: float, marks: float, offset: float, taken: float, sign: int) -> None:
        """Add sign × ln C(a U₀ + k σ − o, taken)."""
        self._add(unmarked, marks, offset, sign)
        self._add(unmarked, marks, offset + taken, -sign)
        self._constant -= sign * float(scipy_gammaln(taken + 1.0))

    def close(self, bound: float, marks_at_start: float, smallest_share: float) -> Ledger:
        """Drop what has cancelled and return the rest."""
        kept = sorted((*key, weight) for key, weight in self._weights.items() if weight)
        unmarked, marks, offsets, weights = np.array(kept, dtype=float).reshape(-1, 4).T
        return Ledger(
            unmarked,
            marks,
            offsets,
            weights,
            constant=self._constant,
            bound=bound,
            marks_at_start=marks_at_start,
            smallest_share=smallest_share,
        )

    def _add(self, unmarked: float, marks: float, offset: float, weight: int) -> None:
        if self._all_marks_count:
            marks, offset = 0.0, offset - marks
            if not unmarked:
                # After catches that nobody looked at, marks at large may be a fraction of a fish
                # below what is seen later.
                self._constant += weight * float(scipy_gammaln(max(-offset, 0.0) + 1.0))
                return
        self._weights[unmarked, marks, offset] += weight


def counting_log_density(
    unmarked_fish: Any,
    share: Any,
    unmarked: Any,
    marks: Any,
    offsets: Any,
    weights: Any,
    *,
    gammaln: Callable[[Any], Any] = scipy_gammaln,
) -> Any:
    """Return the counting part of the log-density, term by term, without its constant.

    Parameters
    ----------
    unmarked_fish : array or tensor, broadcastable to (term,)
        U₀ of the season that each term belongs to, in fish.
    share : array or tensor, broadcastable to (term,)
        σ, the share of the marks that counts.
    unmarked, marks, offsets, weights : array or tensor, shape (term,)
        As in `Ledger`.
    gammaln : callable
        ln Γ of the array library in use: SciPy's by default, PyTensor's in a graph.

    Returns
    -------
    array or tensor, shape (term,)
        Sum it, and add `Ledger.constant`, to have the log-density.
    """
    return weights * gammaln(unmarked * unmarked_fish + marks * share - offsets + 1.0)


def share_log_density(
    marks: Any,
    share: Any,
    chance: Any,
    *,
    gammaln: Callable[[Any], Any] = scipy_gammaln,
    log: Callable[[Any], Any] = np.log,
) -> Any:
    """Log-density of the share of a season's marks that counts, each by the same chance.

    The binomial of K σ out of K marks, on a continuous scale and up to the factor K that a change
    from numbers to shares brings.

    Parameters
    ----------
    marks : array or tensor, shape (season,)
        K, marks released alive, in fish.
    share : array or tensor, shape (season,)
        σ.
    chance : array or tensor
        Of a mark to count.
    gammaln, log : callable
        ln Γ and ln of the array library in use.

    Returns
    -------
    array or tensor, shape (season,)
    """
    counting = marks * share
    others = marks - counting
    return (
        gammaln(marks + 1.0)
        - gammaln(counting + 1.0)
        - gammaln(others + 1.0)
        + counting * log(chance)
        + others * log(1.0 - chance)
    )
