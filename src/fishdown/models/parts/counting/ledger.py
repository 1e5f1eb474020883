"""The counting part of the log-density: which fish could have been in which catch.

All factorials of a season have the form ln Γ(L − o + 1): L is a whole-number linear form of the
season's unknowns and o is known from the records. The unknowns are the unmarked fish before the
first pull, and of each pool of marks the share that counts (1 unless marks may be lost or marked
fish out of reach) and the number carried over from earlier years (0 unless years are linked). A
pool holds the marks whose recaptures are counted together: all of the season, or one batch. Each
form occurs with a whole-number weight, and the weights of successive pulls cancel where nothing but
the pull itself changed the lake. What is left is short, however many pulls were made: in a plain
season two terms. `models/README.md`, section "Counting", has the derivation.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from fishdown.equality import by_value
from fishdown.models.array_library import NUMPY

if TYPE_CHECKING:
    from fishdown.typing import Evidence, FloatArray


@by_value
@dataclass(frozen=True)
class Ledger:
    """Log-factorials of one season.

    Attributes
    ----------
    coefficients : ndarray, shape (term, 1 + 2 × pool)
        Whole numbers that the unknowns occur with: the unmarked fish before the first pull, then
        the counting share of each pool, then the marks carried over of each pool.
    offsets : ndarray, shape (term,)
        o, known fish numbers.
    weights : ndarray, shape (term,)
        Whole-number weight of the log-factorial.
    constant : float
        The factorials that contain no unknown.
    bound : float
        Smallest number of unmarked fish before the first pull that the records allow.
    marks_at_start : ndarray, shape (pool,)
        The season's own marked fish at large before the first pull, if all of them count.
    marks_released : ndarray, shape (pool,)
        Those of the whole season, released before the first pull or later.
    smallest_share : ndarray, shape (pool,)
        Smallest counting share that the recaptures allow.
    least_carried : ndarray, shape (pool,)
        Fewest marks carried over that the recaptures allow.
    """

    coefficients: FloatArray
    offsets: FloatArray
    weights: FloatArray
    constant: float
    bound: float
    marks_at_start: FloatArray
    marks_released: FloatArray
    smallest_share: FloatArray
    least_carried: FloatArray


def season_ledger(
    caught: FloatArray,
    recaptured: FloatArray,
    marks_at_large: FloatArray,
    marks_removed: FloatArray,
    gone_before: FloatArray,
    spoiled: np.ndarray[Any, np.dtype[np.bool_]],
    *,
    gone: float,
    marks_left: float | FloatArray,
    evidence: Evidence = "both",
    all_marks_count: bool = True,
    carried: bool = False,
    by_lot: bool = True,
) -> Ledger:
    """Collect the log-factorials of one season and cancel what cancels.

    Parameters
    ----------
    caught : ndarray, shape (pull,)
        Target fish in each pull.
    recaptured : ndarray, shape (pull,) or (pool, pull)
        Marked fish among them; NaN where the catch was not looked at.
    marks_at_large, marks_removed : ndarray, shape (pull,) or (pool, pull)
        The season's own marks released before the pull less all marks taken out by then, and
        marks taken out by the pull.
    gone_before : ndarray, shape (pull,)
        Fish that left the lake since the season's start (removed or dead) before the pull.
    spoiled : ndarray of bool, shape (pull,)
        The net failed: the catch counts, but the pull says nothing about catchability.
    gone : float
        Fish gone at the season's end.
    marks_left : float or ndarray, shape (pool,)
        The season's own marks released in all, less all marks taken out.
    evidence : {"both", "marks", "depletion"}
        Which part of the records speaks: marks alone (recaptures given the catches), depletion
        alone (catches, whatever marks they carry), or both.
    all_marks_count : bool
        Take the counting share as 1, which cancels more.
    carried : bool
        Marks of earlier years may be at large.
    by_lot : bool
        Marked fish are in the catches by lot. If not, the number of them in each catch has a
        density of its own (`fishdown.models.parts.recaptures`), and the ledger holds the
        catches, and of the marked fish in them the pools that they belong to.

    Returns
    -------
    Ledger
    """
    seen, at_large, taken = (
        np.atleast_2d(array) for array in (recaptured, marks_at_large, marks_removed)
    )
    left = np.atleast_1d(np.asarray(marks_left, dtype=float))
    if evidence == "depletion":
        # Nobody knows of marks: all fish are unmarked fish.
        at_large = taken = np.zeros_like(taken)
        left = np.zeros_like(left)
        carried = False
    removed_before = np.cumsum(taken, axis=1) - taken
    released_before = at_large + removed_before
    removed = taken.sum(axis=1)
    at_start = released_before[:, 0] if len(caught) else left
    book = _Book(len(at_start), all_marks_count=all_marks_count, carried=carried)
    bound = gone - removed.sum() + (left + removed - at_start).sum()
    smallest_share = np.zeros(len(at_start))
    least_carried = np.zeros(len(at_start))

    for pull, (C, G, is_spoiled) in enumerate(zip(caught, gone_before, spoiled, strict=True)):
        R, r, K = seen[:, pull], removed_before[:, pull], released_before[:, pull]
        marks_speak = evidence != "depletion" and not np.isnan(R).any()
        catch_speaks = evidence != "marks" and not is_spoiled
        if marks_speak:
            unmarked_gone, unmarked_caught = G - r.sum(), C - R.sum()
            for pool in range(len(K)):
                book.choose_marked(np.arange(len(K)) == pool, K, r, R, +1)
            if by_lot:
                book.choose(at_start - K, unmarked_gone, unmarked_caught, +1, carried=False)
                if not catch_speaks:
                    book.choose(at_start, G, C, -1)
            else:
                book.choose_marked(np.ones(len(K), dtype=bool), K, r, R, -1)
                if catch_speaks:
                    book.choose(at_start, G, C, +1)
            bound = max(bound, unmarked_gone + unmarked_caught + (K - at_start).sum())
            smallest_share = np.maximum(smallest_share, (r + R) / np.maximum(K, 1.0))
            least_carried = np.maximum(least_carried, r + R - K)
        elif catch_speaks:
            book.choose(at_start, G, C, +1)
        if not marks_speak and not carried:
            bound = max(bound, G + C - at_start.sum())
    return Ledger(
        *book.close(),
        bound=float(bound),
        marks_at_start=at_start,
        marks_released=left + removed,
        smallest_share=smallest_share,
        least_carried=least_carried,
    )


class _Book:
    """Log-factorials by what they contain, with the weights that they have added up to."""

    def __init__(self, pools: int, *, all_marks_count: bool, carried: bool) -> None:
        self._pools = pools
        self._all_marks_count = all_marks_count
        self._carried = carried
        self._weights: Counter[tuple[tuple[float, ...], float]] = Counter()
        self._constant = 0.0

    def choose(
        self, shares: FloatArray, gone: float, taken: float, sign: int, *, carried: bool = True
    ) -> None:
        """Add sign × ln C(unmarked fish + Σ k σ + marks carried over − gone, taken)."""
        self._choose(1.0, shares, np.full(self._pools, float(carried)), gone, taken, sign)

    def choose_marked(
        self,
        mine: np.ndarray[Any, np.dtype[np.bool_]],
        marks: FloatArray,
        gone: FloatArray,
        taken: FloatArray,
        sign: int,
    ) -> None:
        """Add sign × ln C(Σ (k σ + marks carried over − gone), Σ taken) over some pools."""
        carried = mine.astype(float)
        self._choose(
            0.0, marks * mine, carried, float(gone @ carried), float(taken @ carried), sign
        )

    def close(self) -> tuple[FloatArray, FloatArray, FloatArray, float]:
        """Drop what has cancelled and return coefficients, offsets, weights and the constant."""
        kept = sorted((form, offset, weight) for (form, offset), weight in self._weights.items())
        kept = [entry for entry in kept if entry[2]]
        forms = [form for form, _, _ in kept]
        return (
            np.array(forms, dtype=float).reshape(len(kept), 1 + 2 * self._pools),
            np.array([offset for _, offset, _ in kept], dtype=float),
            np.array([weight for _, _, weight in kept], dtype=float),
            self._constant,
        )

    def _choose(
        self,
        unmarked: float,
        shares: FloatArray,
        carried: FloatArray,
        gone: float,
        taken: float,
        sign: int,
    ) -> None:
        if not self._carried:
            carried = np.zeros_like(carried)
        if self._all_marks_count:
            gone, shares = gone - float(shares.sum()), np.zeros_like(shares)
        form = (unmarked, *shares.tolist(), *carried.tolist())
        self._add(form, gone, sign)
        self._add(form, gone + taken, -sign)
        self._constant -= sign * float(NUMPY.gammaln(taken + 1.0))

    def _add(self, form: tuple[float, ...], offset: float, weight: int) -> None:
        if any(form):
            self._weights[form, offset] += weight
        else:
            # After catches that nobody looked at, marks at large may be a fraction of a fish
            # below what is seen later.
            self._constant += weight * float(NUMPY.gammaln(max(-offset, 0.0) + 1.0))


def counting_log_density(
    fish: Any,
    offsets: Any,
    weights: Any,
    *,
    xp: Any = NUMPY,
) -> Any:
    """Return the counting part of the log-density, term by term, without its constant.

    Parameters
    ----------
    fish : array or tensor, shape (term,) or broadcastable to it
        L, each term's linear form: `Ledger.coefficients` times the season's unknowns, in fish.
    offsets, weights : array or tensor, shape (term,)
        As in `Ledger`.
    xp : module
        The array library in use.

    Returns
    -------
    array or tensor, shape (term,)
        Sum it, and add `Ledger.constant`, to have the log-density.
    """
    return weights * xp.gammaln(fish - offsets + 1.0)
