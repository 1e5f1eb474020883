"""Replicated records: posterior predictive draws of catches and recaptures, one step ahead.

They are beta, binomial and (`urn`) hypergeometric numbers; no code is shared with the models'
densities.
"""

from __future__ import annotations

from functools import cache, partial
from typing import TYPE_CHECKING

import numpy as np

from fishdown.posterior.urn import marked_in_catch

if TYPE_CHECKING:
    from collections.abc import Callable

    from fishdown.posterior.at_draws import DrawnLakes
    from fishdown.typing import FloatArray, IntArray

MOST_FISH = 1e17


def whole(fish: FloatArray) -> IntArray:
    """Return whole fish, none below zero."""
    return np.clip(np.rint(fish), 0.0, MOST_FISH).astype(np.int64)


def shares(
    hazard: FloatArray, schooling: FloatArray | None, rng: np.random.Generator
) -> FloatArray:
    """Draw the share of the vulnerable fish that each pull takes.

    Parameters
    ----------
    hazard : ndarray, shape (draw,) or (draw, pull)
    schooling : ndarray of the same shape, or None
        Coefficient of variation of the share while it is small; None for plain chance.
    """
    q: FloatArray = -np.expm1(-hazard)
    if schooling is None:
        return q
    a = (1.0 - q) / schooling**2
    tiny = 1e-12
    return rng.beta(np.maximum(a, tiny), np.maximum(a * (1.0 - q) / np.maximum(q, tiny), tiny))


def catches_given_past(lakes: DrawnLakes, rng: np.random.Generator) -> IntArray:
    """Draw the catch of every valid pull, each given the observed catches before it.

    Returns
    -------
    ndarray of int, shape (draw, pull)
    """
    return rng.binomial(whole(lakes.before), shares(lakes.hazard, lakes.schooling, rng))


def recaptures_given_catches(season: int, lakes: DrawnLakes, rng: np.random.Generator) -> IntArray:
    """Draw the marked fish in every examined catch of a season, given the observed catches.

    Returns
    -------
    ndarray of int, shape (draw, examined catch)
        In the order of `fishdown.models.parts.marks.release_groups.Examined`.
    """
    looks = lakes.data.counts.examined
    mine = looks.season == season
    # Of every release group the share counts; those of earlier years are counted as they are.
    of_mine = mine[looks.release_catch]
    by_group = lakes.share[:, looks.release_group[of_mine]] * looks.released[of_mine]
    # Every catch of a season has an entry for each of the season's groups, in order.
    own = by_group.reshape(len(by_group), int(mine.sum()), -1).sum(axis=2)
    marked = whole(own + lakes.carried[:, [season]] - looks.removed[mine])
    arrived = lakes.open_lake.arrived(lakes.data.times.examined_open_years[mine])
    counted = lakes.vulnerable_fish[:, [season]] * (1.0 + arrived)
    present = whole(counted - looks.gone_before[mine])
    visible, odds = lakes.of_marks(
        season, looks.gone_since[mine], looks.looked_at[mine], looks.gone_before[mine]
    )
    unmarked = np.maximum(present - whole(visible * marked), 0)
    taken = np.minimum(whole(looks.looked_at[mine]), marked + unmarked)
    return marked_in_catch(marked, unmarked, taken, rng, odds=odds, clumping=lakes.clumping)


def replicated_recaptures(lakes: DrawnLakes, rng: np.random.Generator) -> Callable[[int], IntArray]:
    """Return `recaptures_given_catches` of a season by its position, drawn once."""
    return cache(partial(recaptures_given_catches, lakes=lakes, rng=rng))
