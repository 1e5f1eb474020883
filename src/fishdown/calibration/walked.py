"""Where the sampler would stand at a known truth: its working variables from the parameters.

The joint log-likelihood of the truth is then evaluated by the same graph, in the same call, as
that of the draws. `fishdown.models.coordinates` says what the sampler walks over.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import xarray as xr

from fishdown.calibration.truth import effects
from fishdown.models.coordinates import (
    AroundCentre,
    MarksThatLasted,
    RoomAboveBound,
    ShareThatCounts,
    TypicalCatch,
)
from fishdown.models.parts.marks import marks_known
from fishdown.models.parts.marks.shedding import still_marked
from fishdown.models.parts.open_lake.present import OpenLake

if TYPE_CHECKING:
    from collections.abc import Mapping

    from fishdown.calibration.truth import Truth
    from fishdown.models.data import ModelData
    from fishdown.models.parts.years.links import Winters
    from fishdown.models.spec import ModelSpec
    from fishdown.typing import FloatArray, IntArray, Numbers


def with_truth(
    few: xr.Dataset, truth: Truth, spec: ModelSpec, data: ModelData[Numbers]
) -> xr.Dataset:
    """Put the truth behind the draws, as one draw more.

    Parameters
    ----------
    few : xarray.Dataset
        Draws of the model's variables, dimensions (sample, …).
    data : ModelData
        Of the records that were fitted.

    Returns
    -------
    xarray.Dataset
        The variables that the truth has, all free ones among them.
    """
    fish = {"abundance": truth.abundance, "carried_marks": truth.carried}
    known = truth.values | walked(truth, spec, data) | fish
    shared = few[[name for name in few.data_vars if name in known]]
    one = {
        name: (array.dims, np.reshape(known[str(name)], (1, *array.shape[1:])))
        for name, array in shared.data_vars.items()
    }
    return xr.concat(
        [shared.drop_vars(list(shared.coords)), xr.Dataset(one)], dim="sample", join="override"
    )


def walked(truth: Truth, spec: ModelSpec, data: ModelData[Numbers]) -> dict[str, FloatArray]:
    """Return the working variables that are not parameters themselves.

    Parameters
    ----------
    data : ModelData
        Of the records that were fitted.
    """
    counts = data.counts
    mean: FloatArray = np.ones(1)
    found = {}
    if not marks_known(spec.parts):
        share = _share(truth, data)
        mean = mean_share(share, data)
        walk = share_walk(chance_to_count(truth.values, data)[0], data)
        found["share_step"] = walk.walked(share)
    rates = OpenLake(truth.values.get("natural_mortality"))
    bound = counts.bound + rates.needed(data.times.gone, data.times.end)
    found["log_room"] = RoomAboveBound(bound, mean).walked(truth.unmarked)
    if "mean_weight" in truth.values:
        found |= _weights(truth, spec, data)
    if data.winters is not None and data.winters.carrying:
        found["carried_step"] = _carried_step(truth, data.winters, data.lake_of_season)
    if spec.part("evidence") != "marks":
        log_catch = _log_typical_catch(truth, spec, data)
        found |= {"log_typical_catch": log_catch, "typical_catch": np.exp(log_catch)}
    return found


def _log_typical_catch(truth: Truth, spec: ModelSpec, data: ModelData[Numbers]) -> FloatArray:
    """Return ln of hazard at the reference × mean fish before a pull × exp(mean effect)."""
    lake = data.lake_of_season[data.catches.season]
    added = effects(spec, truth.values, data)
    before = truth.vulnerable_fish[data.catches.season] - data.catches.gone_before
    pulls = np.bincount(lake, minlength=len(data.area))
    # By hazard itself, since it is the same for all pulls of a lake but for the effects.
    base = np.bincount(lake, np.log(truth.hazard) - added) / pulls
    mean_effect = np.bincount(lake, added) / pulls
    walk = TypicalCatch(np.log(np.bincount(lake, before) / pulls), mean_effect)
    found: FloatArray = walk.walked(base)
    return found


def chance_to_count(values: Mapping[str, FloatArray], data: ModelData[Numbers]) -> FloatArray:
    """Return the chance of a mark of each group to count.

    Parameters
    ----------
    values : mapping of str to ndarray, shape (sample,)
        The parameters; those that are missing are 1.

    Returns
    -------
    ndarray, shape (sample, release_group)
    """
    names = (
        "vulnerable",
        "mark_retention",
        "post_release_survival",
        "clip_retention",
        "tag_retention",
    )
    if "effective_marks" in values:
        # They weigh the marks at large, and make none of them unmarked.
        values = {name: values[name] for name in names[:1] if name in values}
    vulnerable, kept, alive, clip, tag = (values.get(name, np.ones(1))[:, None] for name in names)
    found: FloatArray = vulnerable * kept * alive * still_marked(data.counts.group_kinds, clip, tag)
    return found


def share_walk(chance: FloatArray, data: ModelData[Numbers]) -> ShareThatCounts:
    """Return how the sampler walks over each group's share of marks that count.

    Parameters
    ----------
    chance : ndarray, shape (release_group,) or (sample, release_group)
        Of a mark to count.
    """
    return ShareThatCounts(data.counts.marks_released, data.counts.smallest_share, chance)


def mean_share(share: FloatArray, data: ModelData[Numbers]) -> FloatArray:
    """Return the share of each season's marks that counts, shape (season,) or (sample, season)."""
    released = data.counts.marks_released
    return by_season(released * share, data) / by_season(released, data)


def by_season(marks: FloatArray, data: ModelData[Numbers]) -> FloatArray:
    """Add up the marks of each season's groups, shape (season,) or (sample, season)."""
    seasons = np.eye(len(data.counts.bound))[data.counts.group_season]
    return marks @ seasons


def _share(truth: Truth, data: ModelData[Numbers]) -> FloatArray:
    """Return the share of each group's marks that counts."""
    counts = data.counts
    by_group = truth.counting.astype(float)
    if len(counts.group_season) != len(by_group):
        # All batches of a season are one group.
        by_group = np.bincount(truth.batch_season, by_group, len(counts.group_season))
    return by_group / counts.marks_released


def _weights(truth: Truth, spec: ModelSpec, data: ModelData[Numbers]) -> dict[str, FloatArray]:
    """Return logarithms; where no fish was measured, the distance from the centre in spreads."""
    values = truth.values
    found = {f"log_{name}": np.log(values[name]) for name in ("mean_weight", "condition")
             if name in values}  # fmt: skip
    log_mean = found["log_mean_weight"]
    by_year = spec.part("sizes") == "by_lake_and_year"
    spread: FloatArray | float
    if by_year:
        # In every lake of a design some fish are measured, in seasons without netting none.
        found["log_weight_of_lake"] = np.log(values["weight_of_lake"])
        centre = found["log_weight_of_lake"][data.lake_of_season]
        spread = values["weight_year_spread"]
    elif spec.part("pooling") == "lakes":
        centre, spread = np.log(values["mean_weight_typical"]), values["weight_spread"]
    else:
        median, spread = spec.priors["mean_weight"].numbers
        centre = np.log(median)
    if "net_selectivity" in values:
        moved = _away_from_lake(truth, data)
        walk = AroundCentre(centre + moved, spread, data.weights.size_known_season)
        found["log_measured_weight"] = walk.walked(log_mean + moved)
    elif by_year or spec.part("pooling") == "lakes":
        walk = AroundCentre(centre, spread, data.weights.size_known_season)
        found["log_mean_weight"] = walk.walked(log_mean)
    return found


def _away_from_lake(truth: Truth, data: ModelData[Numbers]) -> FloatArray:
    """Return ln of the weight of each season's measured fish relative to its lake, on average."""
    values, weights = truth.values, data.weights
    s, electric = (
        values.get(name, np.ones(1))[0]
        for name in ("net_selectivity", "electrofishing_selectivity")
    )
    before = truth.abundance[weights.weighing_season]
    share = np.maximum(before - weights.weighing_gone, 1.0) / np.maximum(before, 1.0)
    away = values["weight_trend"][0] * weights.weighing_time + (s - 1.0) * np.log(share)
    away += np.log(np.where(weights.weighing_netted > 0.0, s, electric))
    fish = weights.weighed + weights.lengths
    seasons = len(data.lake_of_season)
    total, count = (
        np.bincount(weights.weighing_season, terms, seasons) for terms in (fish * away, fish)
    )
    return total / np.maximum(count, 1.0)


def _carried_step(truth: Truth, winters: Winters[Numbers], lake: IntArray) -> FloatArray:
    """Return how far the marks that lasted each winter lie from what is expected of them."""
    values = truth.values
    exchanged = (values["exchange"] * winters.connected)[lake[winters.after]]
    chance = values["winter_survival"] * values["overwinter_retention"] * (1.0 - exchanged)
    steps = []
    for level in winters.carrying:
        before, after = winters.before[level], winters.after[level]
        left = truth.carried[before] + winters.marks_gained[before]
        walk = MarksThatLasted(winters.marks_needed[after], left, chance[level])
        steps.append(walk.walked(truth.carried[after]))
    return np.concatenate(steps)
