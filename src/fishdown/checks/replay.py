"""Records drawn anew from the posterior, lot by lot, to hold the real ones against.

Lots are beta, binomial and hypergeometric numbers; nothing is shared with the models' densities.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from fishdown.campaign import Campaign
    from fishdown.posterior.hazards import DrawnLakes
    from fishdown.typing import FloatArray, IntArray

# NumPy draws from an urn only of fewer than 10⁹; without putting back makes no difference there.
URN = 900_000_000
MOST_FISH = 1e17


def whole(fish: FloatArray) -> IntArray:
    """Return whole fish, none below zero."""
    return np.clip(np.rint(fish), 0.0, MOST_FISH).astype(np.int64)


def shares(
    hazard: FloatArray, schooling: FloatArray | None, rng: np.random.Generator
) -> FloatArray:
    """Draw the share of the fish within reach that each pull takes.

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
    """Draw the catch of every pull that speaks, each given the real catches before it.

    Returns
    -------
    ndarray of int, shape (draw, pull)
    """
    caught: IntArray = rng.binomial(whole(lakes.before), shares(lakes.hazard, lakes.schooling, rng))
    return caught


def recaptures_given_catches(
    campaign: Campaign, season: int, lakes: DrawnLakes, rng: np.random.Generator
) -> IntArray:
    """Draw the marked fish in every examined catch of a season, given the real catches.

    Returns
    -------
    ndarray of int, shape (draw, examined pull)
    """
    pulls = campaign.season_pulls(season)
    seen = ~np.isnan(pulls["recaptured"].values)
    removed = pulls["marks_removed"].values
    removed_before = np.cumsum(removed) - removed
    released = pulls["marks_at_large"].values + removed_before
    at_large = lakes.share[:, [season]] * released - removed_before
    present = lakes.reachable[:, [season]] - pulls["gone_before"].values
    marked = whole(at_large)[:, seen]
    unmarked = np.maximum(whole(present)[:, seen] - marked, 0)
    taken = np.minimum(whole(pulls["caught"].values)[seen], marked + unmarked)
    return _from_urn(marked, unmarked, taken, rng)


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
    hazard = lakes.hazard[:, lakes.data.pull_season == season]
    caught, removed = pulls["caught"], pulls["removed"]
    overall = removed.sum() / max(caught.sum(), 1.0)
    kept = np.where(caught > 0, removed / np.maximum(caught, 1.0), overall)
    # Fish that went missing between pulls other than by netting, marked fish found dead among them.
    gone = np.diff(pulls["gone_before"], prepend=0.0) - np.concatenate([[0.0], removed[:-1]])
    fish = whole(lakes.reachable[:, season])
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


def _from_urn(
    marked: IntArray, unmarked: IntArray, taken: IntArray, rng: np.random.Generator
) -> IntArray:
    large = marked + unmarked > URN
    drawn = rng.hypergeometric(
        np.where(large, 0, marked), np.where(large, taken, unmarked), np.minimum(taken, URN)
    )
    share = marked / np.maximum(marked + unmarked, 1)
    return np.where(large, rng.binomial(taken, share), drawn)
