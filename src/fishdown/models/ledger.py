"""The counting part of the log-density: which fish could have been in which catch.

All factorials of a season have the form ln Γ(N₀ − o + 1): N₀ is the unknown abundance before the
first pull and the offset o is known from the records (fish removed so far, marked fish at large).
Each occurs with a whole-number weight, and the weights of successive pulls cancel where nothing
but the pull itself changed the lake. What is left is short, however many pulls were made: in a
plain season two terms. `models/README.md`, section "Counting", has the derivation.
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
    """Offsets and weights of the log-factorials of one season.

    Attributes
    ----------
    offsets : ndarray, shape (term,)
        Known fish numbers o, in fish.
    weights : ndarray, shape (term,)
        Whole-number weight of ln Γ(N₀ − o + 1).
    constant : float
        The factorials that contain no unknown.
    bound : float
        Smallest abundance before the first pull that the records allow, in fish.
    """

    offsets: FloatArray
    weights: FloatArray
    constant: float
    bound: float


def season_ledger(
    caught: FloatArray,
    recaptured: FloatArray,
    marks_at_large: FloatArray,
    gone_before: FloatArray,
    spoiled: np.ndarray[Any, np.dtype[np.bool_]],
    *,
    still_there: float,
    evidence: Evidence = "both",
) -> Ledger:
    """Collect the log-factorials of one season and cancel what cancels.

    Parameters
    ----------
    caught : ndarray, shape (pull,)
        Target fish in each pull.
    recaptured : ndarray, shape (pull,)
        Marked fish among them; NaN where the catch was not looked at.
    marks_at_large : ndarray, shape (pull,)
        Marked fish in the lake just before the pull.
    gone_before : ndarray, shape (pull,)
        Fish that left the lake since the season's start (removed or dead) before the pull.
    spoiled : ndarray of bool, shape (pull,)
        The net failed: the catch counts, but the pull says nothing about catchability.
    still_there : float
        Fish known to be in the lake at the season's end plus all that are gone by then: the
        removed fish and the marked fish still at large.
    evidence : {"both", "marks", "depletion"}
        Which part of the records speaks: marks alone (recaptures given the catches), depletion
        alone (catches, whatever marks they carry), or both.

    Returns
    -------
    Ledger
        Offsets, weights, constant and bound.
    """
    weights: Counter[float] = Counter()
    constant = 0.0
    bound = 0.0 if evidence == "depletion" else still_there

    def choose(offset: float, taken: float, sign: int) -> None:
        """Add sign × ln C(N₀ − offset, taken)."""
        nonlocal constant
        weights[offset] += sign
        weights[offset + taken] -= sign
        constant -= sign * float(scipy_gammaln(taken + 1.0))

    for C, R, M, gone, is_spoiled in zip(
        caught, recaptured, marks_at_large, gone_before, spoiled, strict=True
    ):
        bound = max(bound, gone + C)
        marks_speak = evidence != "depletion" and not np.isnan(R)
        catch_speaks = evidence != "marks" and not is_spoiled
        if marks_speak:
            constant += _log_choose(M, R)
            choose(gone + M, C - R, +1)
            bound = max(bound, gone + M + C - R)
            if not catch_speaks:
                choose(gone, C, -1)
        elif catch_speaks:
            choose(gone, C, +1)

    kept = sorted((offset, weight) for offset, weight in weights.items() if weight != 0)
    return Ledger(
        offsets=np.array([offset for offset, _ in kept], dtype=float),
        weights=np.array([weight for _, weight in kept], dtype=float),
        constant=constant,
        bound=bound,
    )


def counting_log_density(
    abundance: Any,
    offsets: Any,
    weights: Any,
    *,
    gammaln: Callable[[Any], Any] = scipy_gammaln,
) -> Any:
    """Return the counting part of the log-density, term by term, without its constant.

    Parameters
    ----------
    abundance : array or tensor, broadcastable to (term,)
        N₀ of the season that each term belongs to, in fish.
    offsets, weights : array or tensor, shape (term,)
        As in `Ledger`.
    gammaln : callable
        ln Γ of the array library in use: SciPy's by default, PyTensor's in a graph.

    Returns
    -------
    array or tensor, shape (term,)
        Sum it, and add `Ledger.constant`, to have the log-density.
    """
    return weights * gammaln(abundance - offsets + 1.0)


def _log_choose(n: float, k: float) -> float:
    # Marks at large may be a fraction after catches that nobody looked at.
    n = max(n, k)
    return float(scipy_gammaln(n + 1) - scipy_gammaln(k + 1) - scipy_gammaln(n - k + 1))
