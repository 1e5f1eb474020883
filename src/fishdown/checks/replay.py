"""Replicated records: posterior predictive draws to compare with the observed records.

They are beta, binomial and (`urn`) hypergeometric numbers; no code is shared with the models'
densities.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fishdown.checks.urn import marked_in_catch

if TYPE_CHECKING:
    from fishdown.campaign import Campaign
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
    schooling : ndarray, shape (draw,), or None
        Coefficient of variation of the share while it is small; None for plain chance.
    rng : numpy.random.Generator
    """
    q: FloatArray = -np.expm1(-hazard)
    if schooling is None:
        return q
    spread = schooling.reshape(-1, *(1,) * (hazard.ndim - 1))
    a = (1.0 - q) / spread**2
    tiny = 1e-12
    return rng.beta(np.maximum(a, tiny), np.maximum(a * (1.0 - q) / np.maximum(q, tiny), tiny))


def catches_given_past(lakes: DrawnLakes, rng: np.random.Generator) -> IntArray:
    """Draw the catch of every valid pull, each given the observed catches before it.

    Returns
    -------
    ndarray of int, shape (draw, pull)
    """
    caught: IntArray = rng.binomial(whole(lakes.before), shares(lakes.hazard, lakes.schooling, rng))
    return caught


def recaptures_given_catches(season: int, lakes: DrawnLakes, rng: np.random.Generator) -> IntArray:
    """Draw the marked fish in every examined catch of a season, given the observed catches.

    Parameters
    ----------
    season : int
        Position of the season.
    lakes : DrawnLakes
    rng : numpy.random.Generator

    Returns
    -------
    ndarray of int, shape (draw, examined catch)
        In the order of `fishdown.models.parts.marks.release_groups.Examined`.
    """
    looks = lakes.data.counts.examined
    mine = looks.season == season
    # Of every release group the share counts; those of earlier years are counted as they are.
    at_large = lakes.share @ looks.released[mine].T + lakes.carried[:, [season]]
    marked = whole(at_large - looks.removed[mine])
    present = whole(lakes.vulnerable_fish[:, [season]] - looks.gone_before[mine])
    unmarked = np.maximum(present - marked, 0)
    taken = np.minimum(whole(looks.caught[mine]), marked + unmarked)
    return marked_in_catch(marked, unmarked, taken, rng, odds=lakes.odds, clumping=lakes.clumping)


def season_anew(
    campaign: Campaign, season: int, lakes: DrawnLakes, rng: np.random.Generator
) -> IntArray:
    """Draw the catches of a season from its first pull on, each taking from what the last one left.

    Fish put back, marking in mid-season and spoiled pulls are as in the records: the same share of
    a catch goes back, as many fish are marked, and a spoiled pull takes what it took.

    Returns
    -------
    ndarray of int, shape (draw, pull that speaks)
    """
    pulls = {name: array.values for name, array in campaign.season_pulls(season).items()}
    hazard = lakes.hazard[:, lakes.data.catches.season == season]
    caught, removed = pulls["caught"], pulls["removed"]
    overall = removed.sum() / max(caught.sum(), 1.0)
    kept = np.where(caught > 0, removed / np.maximum(caught, 1.0), overall)
    # Fish that went missing between pulls other than by netting, marked fish found dead among them.
    gone = np.diff(pulls["gone_before"], prepend=0.0) - np.concatenate([[0.0], removed[:-1]])
    fish = whole(lakes.vulnerable_fish[:, season])
    found: list[IntArray] = []
    for pull in range(len(caught)):
        fish = np.maximum(fish - round(gone[pull]), 0)
        if pulls["spoiled"][pull]:
            taken = np.minimum(round(caught[pull]), fish)
        else:
            share = shares(hazard[:, len(found)], lakes.schooling, rng)
            taken = rng.binomial(fish, share)
            found.append(taken)
        fish = fish - np.rint(kept[pull] * taken).astype(np.int64)
    return np.stack(found, axis=1) if found else np.zeros((len(fish), 0), dtype=np.int64)
