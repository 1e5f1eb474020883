"""Release groups: which recaptures are counted together, and which of two marks were retained."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import TYPE_CHECKING, Any

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
    from fishdown.typing import BoolArray, FloatArray, Numbers

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
    caught, recaptured, gone_before : ndarray, shape (examined,)
        Fish in the catch, marked ones among them, and fish gone from the lake before the pull.
    released : ndarray, shape (examined, release_group)
        Marks of each group released before the pull; 0 in groups of other seasons.
    removed : ndarray, shape (examined,)
        Marks removed before the pull.
    double_marks : ndarray, shape (3,)
        Recaptured double-marked fish: both marks seen, the clip only, the tag only.
    """

    season: A = field(metadata=over("examined"))
    caught: A = field(metadata=over("examined", units="count"))
    recaptured: A = field(metadata=over("examined", units="count"))
    gone_before: A = field(metadata=over("examined", units="count"))
    released: A = field(metadata=over("examined", "release_group", units="count"))
    removed: A = field(metadata=over("examined", units="count"))
    double_marks: A = field(metadata=over("tally", units="count"))


def groups_of_seasons(campaign: Campaign, parts: Mapping[str, str]) -> list[ReleaseGroups]:
    """Return the release groups of every season, as a model with these choices counts them."""
    apart = parts["batches"] == "apart" and with_marks(parts) and parts["years"] != "linked"
    # The batch of marks of earlier years is not on record.
    older = campaign.seasons["carried_most"].values > 0
    return [
        groups_of_season(campaign, season, apart=apart and not carried)
        for season, carried in enumerate(older.tolist())
    ]


def examined_pulls(campaign: Campaign) -> BoolArray:
    """Tell which catches were examined for marks while some were at large, shape (pull,)."""
    pulls = campaign.pulls
    known: BoolArray = ~np.isnan(pulls["recaptured"].values)
    return known & (pulls["caught"].values > 0) & (pulls["marks_at_large"].values > 0)


def examined(campaign: Campaign, groups: list[ReleaseGroups]) -> Examined[Numbers]:
    """Gather the catches that were examined for marks, season by season."""
    count = sum(len(group.left) for group in groups)
    looks = []
    first = 0
    of_all = examined_pulls(campaign)
    index = campaign.pulls["season_index"].values
    for season, group in enumerate(groups):
        pulls = campaign.season_pulls(season)
        released = np.zeros((pulls.sizes["pull"], count))
        released[:, first : first + len(group.left)] = group.released_before.T
        first += len(group.left)
        caught, recaptured = pulls["caught"].values, group.recaptured.sum(axis=0)
        looked = of_all[index == season]
        look: dict[str, Any] = {
            "season": np.full(len(caught), season),
            "caught": caught,
            "recaptured": recaptured,
            "gone_before": pulls["gone_before"].values,
            "released": released,
            "removed": group.removed_before.sum(axis=0),
        }
        looks.append({name: values[looked] for name, values in look.items()})
    tallies = ("both_seen", "clip_only", "tag_only")
    mine = campaign.batches["season_index"].values >= 0
    return Examined(
        **{name: np.concatenate([look[name] for look in looks]) for name in looks[0]},
        double_marks=np.array([float(campaign.batches[n].values[mine].sum()) for n in tallies]),
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
    plain = {"marks": "kept", "deaths": "recorded", "batches": "together", "recaptures": "random"}
    if not len(catches.season):
        if all(parts[part] == choice for part, choice in plain.items()):
            return {}, ()
        return plain, ("no catch was examined for marks: all marks are taken to count",)
    changes, notes = {}, []
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
