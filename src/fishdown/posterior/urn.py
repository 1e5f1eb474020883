"""Marked fish in a catch of given size, drawn at random.

Under equal catchability they are hypergeometric. Where marked fish are trap-happy or trap-shy, or
clumped, the probabilities of all possible numbers come from binomial coefficients and beta
functions (`models/README.md`, section "Recaptures"); the models' densities use a recursion instead,
and share no code with this.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy.special import betaln, gammaln

if TYPE_CHECKING:
    from fishdown.typing import FloatArray, IntArray

# NumPy draws from an urn only of fewer than 10⁹; putting fish back makes hardly a difference there.
URN = 900_000_000


def marked_in_catch(
    marked: IntArray,
    unmarked: IntArray,
    taken: IntArray,
    rng: np.random.Generator,
    *,
    odds: FloatArray | None = None,
    clumping: FloatArray | None = None,
) -> IntArray:
    """Draw how many of the fish in each catch are marked.

    Parameters
    ----------
    marked, unmarked, taken : ndarray of int, shape (draw, pull), or broadcastable
        Fish in the lake before the pull, and in the catch; no more than there are.
    odds : ndarray, shape (draw, pull), or broadcastable, optional
        As in `fishdown.models.parts.recaptures.density`.
    clumping : ndarray, shape (draw,), optional
        Likewise.

    Returns
    -------
    ndarray of int, shape (draw, pull)
    """
    marked, unmarked, taken = np.broadcast_arrays(marked, unmarked, taken)
    if odds is None and clumping is None:
        return _at_random(marked, unmarked, taken, rng)
    if odds is not None:
        odds = np.broadcast_to(odds, marked.shape)
    found = np.zeros(marked.shape, dtype=np.int64)
    for pull in range(marked.shape[1]):
        M, U, C = (fish[:, [pull]].astype(float) for fish in (marked, unmarked, taken))
        r = np.arange(min(float(M.max()), float(C.max())) + 1.0)
        possible = (r <= M) & (r <= C) & (C - r <= U)
        log_term = _log_choose(U, C - r) + _log_choose(M, r)
        if odds is not None:
            log_term += r * np.log(odds[:, [pull]])
        if clumping is not None:
            # The share of the marked fish that the pull takes is beta, unmarked ones go singly.
            p = C / (U + M + 1.0)
            a = (1.0 - p) / clumping[:, None] ** 2
            b = a * (1.0 - p) / np.maximum(p, 1e-300)
            log_term += betaln(a + r, b + M - r) - betaln(a, b)
            log_term -= r * (np.log(np.maximum(p, 1e-300)) - np.log1p(-p))
        log_term = np.where(possible, log_term, -np.inf)
        term = np.exp(log_term - log_term.max(axis=1, keepdims=True))
        below = np.cumsum(term, axis=1)
        lot = rng.uniform(size=(len(M), 1)) * below[:, -1:]
        found[:, pull] = (below < lot).sum(axis=1)
    return found


def _at_random(
    marked: IntArray, unmarked: IntArray, taken: IntArray, rng: np.random.Generator
) -> IntArray:
    large = marked + unmarked > URN
    few = np.minimum(taken, URN)
    drawn = rng.hypergeometric(np.where(large, 0, marked), np.where(large, few, unmarked), few)
    # Each fish of the catch is marked, or each of the marked fish is caught, by chance: whichever
    # are fewer, so that no more can come of it than there are.
    by_mark = large & (marked < taken)
    chance = np.where(by_mark, taken, marked) / np.maximum(marked + unmarked, 1)
    by_chance = rng.binomial(np.where(by_mark, marked, taken), chance)
    return np.where(large, np.maximum(by_chance, taken - unmarked), drawn)


def _log_choose(total: FloatArray, chosen: FloatArray) -> FloatArray:
    """Return ln C(total, chosen); of impossible choices something finite."""
    left = np.maximum(total - chosen, 0.0)
    found: FloatArray = (
        gammaln(total + 1.0) - gammaln(np.maximum(chosen, 0.0) + 1.0) - gammaln(left + 1.0)
    )
    return found
