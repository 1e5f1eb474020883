"""Marks in the graph: which share of each release group's marks counts, or for how much."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pymc as pm
import pytensor.tensor as pt

from fishdown.models.coordinates import ShareThatCounts
from fishdown.models.parts.marks import RETENTION_BY_LAKE, SURVIVAL_BY_LAKE, marks_known
from fishdown.models.parts.marks.heard import heard_log_density
from fishdown.models.parts.marks.pens import lived_log_density, retained_log_density
from fishdown.models.parts.marks.second_looks import second_looks_log_density
from fishdown.models.parts.marks.shedding import double_mark_log_density, still_marked
from fishdown.models.parts.marks.thinning import share_log_density
from fishdown.models.parts.recaptures import ODDS_BY_LAKE
from fishdown.models.variables import about_typical, between_lakes, from_prior, in_each_lake
from fishdown.models.whole_numbers import at_least_one

if TYPE_CHECKING:
    from fishdown.models.data import ModelData
    from fishdown.models.parts.open_lake.present import OpenLake
    from fishdown.models.spec import ModelSpec
    from fishdown.typing import Numbers


def share_of_marks(spec: ModelSpec, data: ModelData[Numbers], nodes: ModelData[Any]) -> Any:
    """Return the share of each release group's marks that counts, of those released alive."""
    # Beyond this the logarithm of the probability of loss is infinite in floating point.
    chance = pt.minimum(_chance_to_count(spec, nodes), 1.0 - 1e-12)
    counts = nodes.counts
    if marks_known(spec.parts):
        return pt.ones_like(counts.marks_at_start)
    # Each mark counts with a probability; the realised share is at least what was recaptured.
    walk = ShareThatCounts(counts.marks_released, counts.smallest_share, chance, pt)
    start = np.zeros(len(data.counts.group_season))
    step = pm.Flat("share_step", dims="release_group", initval=start)
    share = walk.reached(step)
    by_chance = share_log_density(counts.marks_released, share, chance, xp=pt)
    pm.Potential("marks_by_chance", (by_chance + walk.log_slope(step)).sum())
    return pm.Deterministic("share_of_marks", share, dims="release_group")


def _chance_to_count(spec: ModelSpec, nodes: ModelData[Any]) -> Any:
    """Return the probability that a mark of each release group counts."""
    counts = nodes.counts
    chance = pt.ones_like(counts.marks_released)
    if spec.part("vulnerable") == "some":
        chance = chance * from_prior("vulnerable", spec.priors["vulnerable"])
    if spec.part("evidence") == "depletion":
        return chance
    if spec.part("marks") == "lost":
        chance = chance * from_prior("mark_retention", spec.priors["mark_retention"])
    if spec.part("marks") == "shed":
        chance = chance * _retention(spec, nodes, counts.group_kinds, counts.group_season)
    if spec.part("deaths") == "unseen":
        survival = _survival(spec, nodes)
        chance = chance * survival[nodes.lake_of_season[counts.group_season]]
    return chance


def _retention(spec: ModelSpec, nodes: ModelData[Any], kinds: Any, season: Any) -> Any:
    """Return the probability that a fish is still recognised as marked, by shares of the kinds.

    Parameters
    ----------
    kinds : tensor, shape (group, kind)
    season : tensor, shape (group,)
        Of each group.
    """
    clip, tag = _kept_in_each_lake(spec, nodes)
    both, clip_only, tag_only = (nodes.counts.examined.double_marks[tally] for tally in range(3))
    double_marked = double_mark_log_density(both, clip_only, tag_only, clip, tag, xp=pt)
    pm.Potential("double_marks", double_marked.sum())
    retained = retained_log_density(nodes.counts.pens, clip[:, None], tag[:, None], xp=pt)
    pm.Potential("pens_retained", retained.sum())
    lake = nodes.lake_of_season[season]
    return still_marked(kinds, clip[lake], tag[lake])


def _kept_in_each_lake(spec: ModelSpec, nodes: ModelData[Any]) -> tuple[Any, Any]:
    """Return the retention of clips and of tags in each lake, shape (lake,)."""
    names = ("clip_retention", "tag_retention")
    if spec.part("marks") != "effective":
        clip, tag = (_same_in_all_lakes(spec, nodes, name) for name in names)
        return clip, tag
    apart = None
    if spec.part("pooling") == "lakes":
        # The same people put on the clips and the tags of a lake.
        apart = between_lakes(spec, RETENTION_BY_LAKE, "retention_step")
    clip, tag = (about_typical(spec, name, RETENTION_BY_LAKE, name, apart) for name in names)
    return clip, tag


def _same_in_all_lakes(spec: ModelSpec, nodes: ModelData[Any], name: str) -> Any:
    return from_prior(name, spec.priors[name]) * pt.ones_like(nodes.area)


def _survival(spec: ModelSpec, nodes: ModelData[Any]) -> Any:
    """Return the post-release survival in each lake, shape (lake,)."""
    name = "post_release_survival"
    if spec.part("marks") == "effective":
        survival = in_each_lake(spec, name, SURVIVAL_BY_LAKE, name)
    else:
        survival = _same_in_all_lakes(spec, nodes, name)
    pm.Potential("pens_lived", lived_log_density(nodes.counts.pens, survival, xp=pt).sum())
    return survival


def marks_there(spec: ModelSpec, nodes: ModelData[Any], lake: OpenLake) -> Any:
    """Return the share of each season's marks that is kept, seen, and on a living fish."""
    seasons = pt.arange(nodes.lake_of_season.shape[0])
    retention = _retention(spec, nodes, nodes.counts.kinds_at_large, seasons)
    survival = _survival(spec, nodes)[nodes.lake_of_season]
    # Marked fish that died before the first pull of natural causes are not among its fish.
    survival = survival * lake.staying(nodes.times.marked_years, xp=pt)
    if nodes.heard is not None:
        # A tag is heard if it is kept and its fish alive, whatever is left of a clip.
        there = pm.modelcontext(None)["tag_retention"][nodes.lake_of_season] * survival
        there = (there * pt.ones_like(nodes.times.marked_years))[nodes.heard.season]
        pm.Potential("heard_tags", heard_log_density(nodes.heard, there, xp=pt))
    return retention * survival * _detection(spec, nodes)


def _detection(spec: ModelSpec, nodes: ModelData[Any]) -> Any:
    """Return the probability that a look finds a mark that is there; 1 within retention."""
    if nodes.second_looks is None:
        return 1.0
    detection = from_prior("mark_detection", spec.priors["mark_detection"])
    told = second_looks_log_density(nodes.second_looks, detection, xp=pt)
    pm.Potential("second_looks", told)
    return detection


def capture_odds(spec: ModelSpec, nodes: ModelData[Any]) -> Any:
    """Return the capture odds ratio of marked to unmarked fish in each season's lake."""
    name = "capture_odds_ratio"
    return in_each_lake(spec, name, ODDS_BY_LAKE, name)[nodes.lake_of_season]


def by_season(marks: Any, nodes: ModelData[Any]) -> Any:
    """Return the marks of each season, summed over its release groups."""
    nought = pt.zeros_like(nodes.counts.bound)
    return pt.inc_subtensor(nought[nodes.counts.group_season], marks)


def mean_share(spec: ModelSpec, nodes: ModelData[Any], share: Any) -> Any:
    """Return the share of each season's marks that counts; 1 without marks."""
    if marks_known(spec.parts):
        return pt.ones_like(nodes.counts.bound)
    released = by_season(nodes.counts.marks_released, nodes)
    counting = by_season(nodes.counts.marks_released * share, nodes)
    none = 1.0 - at_least_one(released)
    return (counting + none) / (released + none)
