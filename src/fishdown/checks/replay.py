"""Seasons replicated from their first pull on, to compare with the observed ones."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fishdown.models.parts.open_lake.times import DAYS_OF_YEAR
from fishdown.posterior.replicates import shares, whole

if TYPE_CHECKING:
    from fishdown.campaign import Campaign
    from fishdown.posterior.at_draws import DrawnLakes
    from fishdown.typing import IntArray


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
    mine = lakes.data.catches.season == season
    hazard = lakes.hazard[:, mine]
    schooling = None if lakes.schooling is None else lakes.schooling[:, mine]
    caught, removed = pulls["caught"], pulls["removed"]
    overall = removed.sum() / max(caught.sum(), 1.0)
    kept = np.where(caught > 0, removed / np.maximum(caught, 1.0), overall)
    # Fish that went missing between pulls other than by netting, marked fish found dead among them.
    gone = np.diff(pulls["gone_before"], prepend=0.0) - np.concatenate([[0.0], removed[:-1]])
    at_start = lakes.vulnerable_fish[:, [season]]
    fish = whole(at_start[:, 0])
    days = np.diff(pulls["date"], prepend=pulls["date"][:1]) / np.timedelta64(1, "D")
    between = days / DAYS_OF_YEAR
    lake = campaign.seasons["lake_index"].values[season]
    between_open = between * campaign.lakes["connected"].values[lake]
    found: list[IntArray] = []
    for pull in range(len(caught)):
        if not lakes.open_lake.closed:
            stayed = fish[:, None] * lakes.open_lake.staying(between[[pull]])
            arrived = at_start * lakes.open_lake.arrived(between_open[[pull]])
            fish = whole((stayed + arrived)[:, 0])
        fish = np.maximum(fish - round(gone[pull]), 0)
        if pulls["spoiled"][pull]:
            taken = np.minimum(round(caught[pull]), fish)
        else:
            pulled = len(found)
            spread = None if schooling is None else schooling[:, pulled]
            share = shares(hazard[:, pulled], spread, rng)
            taken = rng.binomial(fish, share)
            found.append(taken)
        fish = fish - np.rint(kept[pull] * taken).astype(np.int64)
    return np.stack(found, axis=1) if found else np.zeros((len(fish), 0), dtype=np.int64)
