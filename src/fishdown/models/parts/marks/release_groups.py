"""Release groups: which recaptures are counted together, and which of two marks were retained."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from fishdown.equality import by_value
from fishdown.models.inputs import over
from fishdown.models.part import with_marks
from fishdown.models.parts.marks.shedding import KINDS

if TYPE_CHECKING:
    from collections.abc import Mapping

    import xarray as xr

    from fishdown.campaign import Campaign
    from fishdown.models.part import LeftOut
    from fishdown.typing import BoolArray, FloatArray, IntArray, Numbers

# Fewer catches carry no information on how recaptures vary (our judgement, no source).
FEWEST_EXAMINED = 5


@by_value
@dataclass(frozen=True)
class ReleaseGroups:
    """The release groups of one season.

    Attributes
    ----------
    recaptured, at_large, removed : ndarray, shape (release_group, pull)
        Marked fish in each catch (NaN where it was not examined); the season's own marks released
        before the pull less all marks removed by then; and marks removed by the pull.
    left : ndarray, shape (release_group,)
        Marks released alive in the season less those removed.
    kinds : ndarray, shape (release_group, kind)
        Share of each of `fishdown.models.parts.marks.shedding.KINDS` among the marks.
    """

    recaptured: FloatArray
    at_large: FloatArray
    removed: FloatArray
    left: FloatArray
    kinds: FloatArray

    @cached_property
    def removed_before(self) -> FloatArray:
        """Marks removed before each pull, shape (release_group, pull)."""
        return np.cumsum(self.removed, axis=1) - self.removed

    @cached_property
    def released_before(self) -> FloatArray:
        """The season's own marks released before each pull, shape (release_group, pull)."""
        return self.at_large + self.removed_before

    @cached_property
    def at_start(self) -> FloatArray:
        """The season's own marks at large before the first pull, shape (release_group,)."""
        return self.released_before[:, 0] if self.at_large.shape[1] else self.left

    @cached_property
    def released(self) -> FloatArray:
        """The season's own marks released alive, shape (release_group,)."""
        return self.left + self.removed.sum(axis=1)

    @cached_property
    def examined(self) -> BoolArray:
        """Whether each catch was examined for marks, shape (pull,)."""
        return ~np.isnan(self.recaptured).any(axis=0)

    def without_marks(self) -> ReleaseGroups:
        """Return the same groups as if no fish had been marked and no catch examined."""
        none = np.zeros_like(self.removed)
        return replace(
            self,
            recaptured=np.full_like(none, np.nan),
            at_large=none,
            removed=none,
            left=np.zeros_like(self.left),
        )


def groups_of_season(campaign: Campaign, season: int, *, apart: bool) -> ReleaseGroups:
    """Put the marks of a season into one release group, or into one for each batch.

    Parameters
    ----------
    campaign : Campaign
    season : int
        Position of the season.
    apart : bool
        Separate the batches, if each catch of the season has the number of every batch.
    """
    pulls = campaign.season_pulls(season)
    batches = batches_of_season(campaign, season)
    released = batches["released_alive"].values
    kinds = np.array([batches["mark"].values == kind for kind in KINDS], dtype=float).T
    if apart and tells_apart(batches):
        recaptured = batches["batch_recaptured"].values
        # Of a catch that was partly put back, each batch is removed in proportion.
        seen = np.maximum(pulls["recaptured"].values, 1.0)
        removed = recaptured * (pulls["marks_removed"].values / seen)
        gone = np.cumsum(removed, axis=1)
        at_large = batches["batch_released"].values - (gone - removed)
        return ReleaseGroups(recaptured, at_large, removed, released - removed.sum(axis=1), kinds)
    together = released @ kinds / max(float(released.sum()), 1.0)
    # A group counts the season's own marks; how many of earlier years remain is unknown.
    others = float(campaign.seasons["carried_most"].values[season])
    return ReleaseGroups(
        recaptured=pulls["recaptured"].values[None, :],
        at_large=pulls["marks_at_large"].values[None, :] - others,
        removed=pulls["marks_removed"].values[None, :],
        left=np.array([float(campaign.seasons["marks_left"].values[season]) - others]),
        # Without any mark the kind does not matter.
        kinds=together[None, :] if together.any() else np.eye(1, len(KINDS)),
    )


def kinds_at_large(campaign: Campaign) -> FloatArray:
    """Return the share of each kind of mark among those of a season and its lake's earlier ones.

    Returns
    -------
    ndarray, shape (season, kind)
        In a season before which no fish was marked in its lake, one for the first kind.
    """
    batches, lake = campaign.batches, campaign.seasons["lake_index"].values
    released = np.zeros((len(lake), len(KINDS)))
    season = batches["season_index"].values
    for place, kind in enumerate(KINDS):
        mine = (batches["mark"].values == kind) & (season >= 0)
        np.add.at(released[:, place], season[mine], batches["released_alive"].values[mine])
    # The seasons of a lake stand together, in time order.
    _, first, of_lake = np.unique(lake, return_index=True, return_inverse=True)
    up_to = np.cumsum(released, axis=0)
    released = up_to - (up_to - released)[first][of_lake]
    total = released.sum(axis=1, keepdims=True)
    return np.where(total > 0.0, released / np.maximum(total, 1.0), np.eye(1, len(KINDS)))


def batches_of_season(campaign: Campaign, season: int) -> xr.Dataset:
    """Return the batches of a season with their pulls, by its position."""
    return campaign.batches.isel(
        batch=np.flatnonzero(campaign.batches["season_index"].values == season),
        pull=np.flatnonzero(campaign.pulls["season_index"].values == season),
    )


def tells_apart(batches: xr.Dataset) -> bool:
    """Return whether a season has several batches, and every catch the number of each."""
    return batches.sizes["batch"] > 1 and not batches["batch_recaptured"].isnull().any()


@by_value
@dataclass(frozen=True, eq=False)
class Examined[A]:
    """The catches that were examined for marks while marked fish were at large.

    Attributes
    ----------
    season : ndarray of int, shape (examined,)
        Position of the season.
    looked_at, recaptured, gone_before : ndarray, shape (examined,)
        Fish of the catch looked at for marks, marked ones among them, and fish gone from the lake
        before the pull.
    removed : ndarray, shape (examined,)
        Marks removed before the pull.
    gone_since : ndarray, shape (examined,)
        Fish taken since the marks were released, on the average of the marks.
    release_catch, release_group : ndarray of int, shape (release,)
        Position of the catch, and of each release group of its season.
    released : ndarray, shape (release,)
        Marks of that group released before that pull.
    double_marks : ndarray, shape (3, lake)
        Recaptured double-marked fish: both marks seen, the clip only, the tag only.
    """

    season: A = field(metadata=over("examined"))
    looked_at: A = field(metadata=over("examined", units="count"))
    recaptured: A = field(metadata=over("examined", units="count"))
    gone_before: A = field(metadata=over("examined", units="count"))
    removed: A = field(metadata=over("examined", units="count"))
    gone_since: A = field(metadata=over("examined", units="count"))
    release_catch: A = field(metadata=over("release"))
    release_group: A = field(metadata=over("release"))
    released: A = field(metadata=over("release", units="count"))
    double_marks: A = field(metadata=over("tally", "lake", units="count"))


def groups_of_seasons(campaign: Campaign, parts: Mapping[str, str]) -> list[ReleaseGroups]:
    """Return the release groups of every season, as a model with these choices counts them."""
    apart = parts["batches"] == "apart" and with_marks(parts) and parts["years"] != "linked"
    # The batch of marks of earlier years is not on record.
    together = campaign.seasons["carried_most"].values > 0
    # Nor is that of marked fish that left other than by the nets.
    together |= campaign.seasons["marks_moved"].values > 0
    return [
        groups_of_season(campaign, season, apart=apart and not mixed)
        for season, mixed in enumerate(together.tolist())
    ]


def gone_since_release(campaign: Campaign, season: int, group: ReleaseGroups) -> FloatArray:
    """Return the fish taken before each pull of a season since its marks were released.

    Marks released on several days count by their number; those of earlier years were there before
    the first pull.

    Returns
    -------
    ndarray, shape (pull,)
    """
    gone = campaign.season_pulls(season)["gone_before"].values
    released = group.released_before.sum(axis=0)
    new = np.diff(released, prepend=0.0)
    earlier = float(campaign.seasons["carried_most"].values[season])
    all_released = np.maximum(released + earlier, 1.0)
    return gone - np.cumsum(new * gone) / all_released


def by_lake(campaign: Campaign, counted: FloatArray) -> FloatArray:
    """Add up over the batches of each lake; batches outside every season are left out.

    Parameters
    ----------
    counted : ndarray, shape (batch,)

    Returns
    -------
    ndarray, shape (lake,)
    """
    season = campaign.batches["season_index"].values
    mine = season >= 0
    lake = campaign.seasons["lake_index"].values[season[mine]]
    return np.bincount(lake, counted[mine], minlength=campaign.lakes.sizes["lake"])


def examined_pulls(campaign: Campaign) -> BoolArray:
    """Tell which catches were examined for marks while some were at large, shape (pull,)."""
    pulls = campaign.pulls
    known: BoolArray = ~np.isnan(pulls["recaptured"].values)
    return known & (pulls["caught"].values > 0) & (pulls["marks_at_large"].values > 0)


def examined(campaign: Campaign, groups: list[ReleaseGroups]) -> Examined[Numbers]:
    """Gather the catches that were examined for marks, season by season."""
    catches: list[dict[str, FloatArray]] = []
    releases: list[tuple[IntArray, IntArray, FloatArray]] = []
    first_group = first_catch = 0
    of_all = examined_pulls(campaign)
    index = campaign.pulls["season_index"].values
    for season, group in enumerate(groups):
        pulls = campaign.season_pulls(season)
        looked = of_all[index == season]
        columns = {
            "season": np.full(pulls.sizes["pull"], season),
            "looked_at": pulls["examined"].values,
            "recaptured": group.recaptured.sum(axis=0),
            "gone_before": pulls["gone_before"].values,
            "removed": group.removed_before.sum(axis=0),
            "gone_since": gone_since_release(campaign, season, group),
        }
        catches.append({name: values[looked] for name, values in columns.items()})
        released = group.released_before.T[looked]
        place, of_group = (each.ravel() for each in np.indices(released.shape))
        releases.append((first_catch + place, first_group + of_group, released.ravel()))
        first_group += len(group.left)
        first_catch += int(looked.sum())
    tallies = ("both_seen", "clip_only", "tag_only")
    catch, of_group, released = (np.concatenate(each) for each in zip(*releases, strict=True))
    return Examined(
        **{name: np.concatenate([one[name] for one in catches]) for name in catches[0]},
        release_catch=catch,
        release_group=of_group,
        released=released,
        double_marks=np.array([by_lake(campaign, campaign.batches[n].values) for n in tallies]),
    )


def without_uninformed_marks(campaign: Campaign, parts: Mapping[str, str]) -> LeftOut:
    """Leave out the parts about marks on which this campaign's records carry no information.

    Returns
    -------
    changes : dict of str to str
        Choices made instead, by part.
    notes : tuple of str
        What was left out, and what is determined by its prior, in words.
    """
    count = campaign.seasons.sizes["season"]
    seasons = [groups_of_season(campaign, season, apart=False) for season in range(count)]
    catches = examined(campaign, seasons)
    plain = {
        "marks": "all_count",
        "deaths": "recorded",
        "batches": "together",
        "recaptures": "random",
    }
    if not len(catches.season):
        if all(parts[part] == choice for part, choice in plain.items()):
            return {}, ()
        if not campaign.seasons["marked"].values.any():
            return plain, ()
        return plain, ("no catch was examined for marks: all marks are taken to count",)
    changes: dict[str, str] = {}
    notes: list[str] = []
    apart = any(tells_apart(batches_of_season(campaign, season)) for season in range(count))
    if parts["batches"] == "apart" and parts["years"] == "linked":
        changes["batches"] = "together"
        notes.append("linked years: batches are not separated")
    elif parts["batches"] == "apart" and not apart:
        changes["batches"] = "together"
        notes.append("no recaptures assigned to each of several batches: batches are not separated")
    if parts["recaptures"] == "clumped" and len(catches.season) < FEWEST_EXAMINED:
        changes["recaptures"] = "random"
        notes.append(
            f"fewer than {FEWEST_EXAMINED} catches examined for marks: recaptures taken as random"
        )
    if parts["marks"] == "shed" and not catches.double_marks.any():
        notes.append(
            "no double-marked fish was checked for both marks: the retention of clips and tags is "
            "determined by its prior and by the difference of mark–recapture and depletion"
        )
    return changes, tuple(notes)
