"""Log-factorials: the terms of the counting part of the log-density, and how they telescope.

Every binomial coefficient of a season is made of factorials (L − o)!, where L is a whole-number
linear form of the season's unknowns and o is known from the records. Successive pulls contribute
the same factorials with opposite signs wherever nothing but the pull itself changed the lake.
`models/README.md`, section "Counting", has the derivation.
"""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, Any, NamedTuple

from fishdown.models.array_library import NUMPY

if TYPE_CHECKING:
    from collections.abc import Iterable

type Form = tuple[float, ...]


class Term(NamedTuple):
    """weight × ln (L − offset)!, L the form's dot product with the unknowns.

    Attributes
    ----------
    form : tuple of float
        Whole numbers, one for each unknown of the season.
    offset : float
        o, fish.
    weight : int
    """

    form: Form
    offset: float
    weight: int


class Fish(NamedTuple):
    """A number of fish in the lake: the form times the unknowns, less those already gone.

    Attributes
    ----------
    form : tuple of float
        As in `Term`.
    gone : float
        Fish.
    """

    form: Form
    gone: float


def ways(fish: Fish, taken: float, sign: int = 1) -> list[Term]:
    """Return sign × ln C(fish, taken) as three terms."""
    nothing = (0.0,) * len(fish.form)
    return [
        Term(fish.form, fish.gone, sign),
        Term(fish.form, fish.gone + taken, -sign),
        Term(nothing, -taken, -sign),
    ]


def telescoped(terms: Iterable[Term]) -> tuple[list[Term], float]:
    """Add up the weights of equal factorials and drop those that cancel.

    Parameters
    ----------
    terms : iterable of Term

    Returns
    -------
    terms : list of Term
        Those that contain an unknown.
    constant : float
        Sum of the others.
    """
    weights: Counter[tuple[Form, float]] = Counter()
    for form, offset, weight in terms:
        weights[form, offset] += weight
    left = [Term(*factorial, weight) for factorial, weight in sorted(weights.items()) if weight]
    # After catches not examined for marks, the estimate of marks at large may be a fraction of a
    # fish below what is recaptured later.
    known = (
        term.weight * float(NUMPY.gammaln(max(-term.offset, 0.0) + 1.0))
        for term in left
        if not any(term.form)
    )
    return [term for term in left if any(term.form)], sum(known)


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
        L, each term's form times the season's unknowns, fish.
    offsets, weights : array or tensor, shape (term,)
        As in `Term`.
    xp : module
        The array library in use.

    Returns
    -------
    array or tensor, shape (term,)
        Its sum and the constant of `telescoped` are the log-density.
    """
    return weights * xp.gammaln(fish - offsets + 1.0)
