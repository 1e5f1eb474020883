"""Pools of marks: which recaptures are counted together, and what was left of two marks."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np

from fishdown.equality import by_value
from fishdown.models.inputs import over
from fishdown.models.parts.marks.shedding import KINDS

if TYPE_CHECKING:
    from collections.abc import Mapping

    import xarray as xr

    from fishdown.campaign import Campaign
    from fishdown.models.part import LeftOut
    from fishdown.typing import BoolArray, FloatArray, Numbers

# Fewer catches than this say nothing of how recaptures scatter (our judgement, no source).
FEWEST_LOOKS = 5


@by_value
@dataclass(frozen=True)
class Pools:
    """The pools of one season.

    Attributes
    ----------
    recaptured, at_large, removed : ndarray, shape (pool, pull)
        Marked fish in each catch (NaN where it was not examined); the season's own marks released
        before the pull less all marks removed by then; and marks removed by the pull.
    left : ndarray, shape (pool,)
        Marks released alive in the season less those removed.
    kinds : ndarray, shape (pool, kind)
        Share of each of `fishdown.models.parts.marks.shedding.KINDS` among the marks.
    """

    recaptured: FloatArray
    at_large: FloatArray
    removed: FloatArray
    left: FloatArray
    kinds: FloatArray

    @cached_property
    def removed_before(self) -> FloatArray:
        """Marks removed before each pull, shape (pool, pull)."""
        return np.cumsum(self.removed, axis=1) - self.removed

    @cached_property
    def released_before(self) -> FloatArray:
        """The season's own marks released before each pull, shape (pool, pull)."""
        return self.at_large + self.removed_before

    @cached_property
    def at_start(self) -> FloatArray:
        """The season's own marks at large before the first pull, shape (pool,)."""
        return self.released_before[:, 0] if self.at_large.shape[1] else self.left

    @cached_property
    def released(self) -> FloatArray:
        """The season's own marks released alive, shape (pool,)."""
        return self.left + self.removed.sum(axis=1)

    @cached_property
    def examined(self) -> BoolArray:
        """Whether each catch was examined for marks, shape (pull,)."""
        return ~np.isnan(self.recaptured).any(axis=0)

    def without_marks(self) -> Pools:
        """Return the same pools as if no fish had been marked and no catch examined."""
        none = np.zeros_like(self.removed)
        return replace(
            self,
            recaptured=np.full_like(none, np.nan),
            at_large=none,
            removed=none,
            left=np.zeros_like(self.left),
        )


def pools_of_season(campaign: Campaign, season: int, *, apart: bool) -> Pools:
    """Make one pool of a season's marks, or one of each batch.

    Parameters
    ----------
    campaign : Campaign
    season : int
        Position of the season.
    apart : bool
        Count batches apart, if every catch of the season tells them apart.
    """
    pulls = campaign.season_pulls(season)
    batches = batches_of_season(campaign, season)
    released = batches["released_alive"].values
    kinds = np.array([batches["mark"].values == kind for kind in KINDS], dtype=float).T
    if apart and tells_apart(batches):
        recaptured = batches["batch_recaptured"].values
        # Of a catch that was partly put back, the batches went by their shares.
        seen = np.maximum(pulls["recaptured"].values, 1.0)
        removed = recaptured * (pulls["marks_removed"].values / seen)
        gone = np.cumsum(removed, axis=1)
        at_large = batches["batch_released"].values - (gone - removed)
        return Pools(recaptured, at_large, removed, released - removed.sum(axis=1), kinds)
    together = released @ kinds / max(float(released.sum()), 1.0)
    # Of earlier years' marks nobody knows how many have lasted; a pool's are the season's own.
    others = float(campaign.seasons["carried_most"].values[season])
    return Pools(
        recaptured=pulls["recaptured"].values[None, :],
        at_large=pulls["marks_at_large"].values[None, :] - others,
        removed=pulls["marks_removed"].values[None, :],
        left=np.array([float(campaign.seasons["marks_left"].values[season]) - others]),
        # Without any mark the kind is of no account.
        kinds=together[None, :] if together.any() else np.eye(1, len(KINDS)),
    )


def batches_of_season(campaign: Campaign, season: int) -> xr.Dataset:
    """Return the batches of a season with their pulls, by its position."""
    return campaign.batches.isel(
        batch=np.flatnonzero(campaign.batches["season_index"].values == season),
        pull=np.flatnonzero(campaign.pulls["season_index"].values == season),
    )


def tells_apart(batches: xr.Dataset) -> bool:
    """Tell whether a season has several batches, and every catch the number of each."""
    return batches.sizes["batch"] > 1 and not batches["batch_recaptured"].isnull().any()


@by_value
@dataclass(frozen=True, eq=False)
class Examined[A]:
    """The catches in which somebody looked for marked fish while some were at large.

    Attributes
    ----------
    season : ndarray of int, shape (look,)
        Position of the season.
    caught, recaptured, gone_before : ndarray, shape (look,)
        Fish in the catch, marked ones among them, fish gone from the lake before.
    released : ndarray, shape (look, pool)
        Marks of each pool released before the pull; 0 in pools of other seasons.
    removed : ndarray, shape (look,)
        Marks taken out before the pull.
    double_marks : ndarray, shape (3,)
        Recaptured fish of two marks seen with both, with the clip alone, with the tag alone.
    """

    season: A = field(metadata=over("look"))
    caught: A = field(metadata=over("look"))
    recaptured: A = field(metadata=over("look"))
    gone_before: A = field(metadata=over("look"))
    released: A = field(metadata=over("look", "pool"))
    removed: A = field(metadata=over("look"))
    double_marks: A = field(metadata=over("tally"))


def examined(campaign: Campaign, pools: list[Pools]) -> Examined[Numbers]:
    """Gather the catches that were looked through, season by season."""
    count = sum(len(pool.left) for pool in pools)
    looks = []
    first = 0
    for season, pool in enumerate(pools):
        pulls = campaign.season_pulls(season)
        released = np.zeros((pulls.sizes["pull"], count))
        released[:, first : first + len(pool.left)] = pool.released_before.T
        first += len(pool.left)
        caught, recaptured = pulls["caught"].values, pool.recaptured.sum(axis=0)
        looked = ~np.isnan(recaptured) & (caught > 0) & (pulls["marks_at_large"].values > 0)
        look: dict[str, Any] = {
            "season": np.full(len(caught), season),
            "caught": caught,
            "recaptured": recaptured,
            "gone_before": pulls["gone_before"].values,
            "released": released,
            "removed": pool.removed_before.sum(axis=0),
        }
        looks.append({name: values[looked] for name, values in look.items()})
    tallies = ("both_seen", "clip_only", "tag_only")
    mine = campaign.batches["season_index"].values >= 0
    return Examined(
        **{name: np.concatenate([look[name] for look in looks]) for name in looks[0]},
        double_marks=np.array([float(campaign.batches[n].values[mine].sum()) for n in tallies]),
    )


def without_unfed_marks(campaign: Campaign, parts: Mapping[str, str]) -> LeftOut:
    """Leave out the parts about marks that this campaign's records cannot feed.

    Returns
    -------
    changes : dict of str to str
        Choices to make instead, by part.
    notes : tuple of str
        What was left out, and what rests on its prior, in words.
    """
    count = campaign.seasons.sizes["season"]
    looked = examined(campaign, [pools_of_season(campaign, s, apart=False) for s in range(count)])
    plain = {"marks": "kept", "deaths": "recorded", "batches": "together", "recaptures": "random"}
    if not len(looked.season):
        if all(parts[part] == choice for part, choice in plain.items()):
            return {}, ()
        return plain, ("nobody looked for marks: all of them count",)
    changes, notes = {}, []
    apart = any(tells_apart(batches_of_season(campaign, season)) for season in range(count))
    if parts["batches"] == "apart" and parts["years"] == "linked":
        changes["batches"] = "together"
        notes.append("linked years: the marks of a season are counted together")
    elif parts["batches"] == "apart" and not apart:
        changes["batches"] = "together"
        notes.append("no season with several batches told apart: marks are counted together")
    if parts["recaptures"] == "clumped" and len(looked.season) < FEWEST_LOOKS:
        changes["recaptures"] = "random"
        notes.append(f"fewer than {FEWEST_LOOKS} catches looked through: recaptures are by lot")
    if parts["marks"] == "shed" and not looked.double_marks.any():
        notes.append(
            "no fish of two marks was looked at for both: what is left of clips and tags rests on "
            "its prior, and on what catches say against marks"
        )
    return changes, tuple(notes)
