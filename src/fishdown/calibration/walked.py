"""Where the sampler would stand at a known truth: its working variables from the parameters.

The joint log-likelihood of the truth is then evaluated by the same graph, in the same call, as
that of the draws. `fishdown.models.graph`, `winter`, `hazard` and `weighing` say what the sampler
walks over.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import xarray as xr

from fishdown.calibration.truth import effects
from fishdown.models.counts import all_marks_count
from fishdown.models.ledger import HALF_FISH
from fishdown.models.shedding import still_marked
from fishdown.models.thinning import share_range, walk_scale

if TYPE_CHECKING:
    from collections.abc import Mapping

    from fishdown.calibration.truth import Truth
    from fishdown.models.data import ModelData
    from fishdown.models.spec import ModelSpec
    from fishdown.models.years import Winters
    from fishdown.typing import FloatArray, IntArray


def with_truth(few: xr.Dataset, truth: Truth, spec: ModelSpec, data: ModelData) -> xr.Dataset:
    """Put the truth behind the draws, as one draw more.

    Parameters
    ----------
    few : xarray.Dataset
        Draws of the model's variables, dimensions (sample, …).
    truth : Truth
    spec : ModelSpec
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


def walked(truth: Truth, spec: ModelSpec, data: ModelData) -> dict[str, FloatArray]:
    """Return the working variables that are not parameters themselves.

    Parameters
    ----------
    truth : Truth
    spec : ModelSpec
    data : ModelData
        Of the records that were fitted.
    """
    counts = data.counts
    found = {"log_room": np.log(truth.unmarked - counts.bound + HALF_FISH)}
    if not all_marks_count(spec):
        share = _share(truth, data)
        found["log_room"] -= np.log(mean_share(share, data))
        found["share_step"] = step_to(share, chance_to_count(truth.values, data)[0], data)
    if "mean_weight" in truth.values:
        found |= _weights(truth, spec, data)
    if data.winters is not None and data.winters.carrying:
        found["carried_step"] = _carried_step(truth, data.winters, data.lake_of_season)
    if spec.part("evidence") != "marks":
        log_catch = _log_typical_catch(truth, spec, data)
        found |= {"log_typical_catch": log_catch, "typical_catch": np.exp(log_catch)}
    return found


def _log_typical_catch(truth: Truth, spec: ModelSpec, data: ModelData) -> FloatArray:
    """Return ln of hazard at the reference × mean fish before a pull × exp(mean effect)."""
    lake = data.lake_of_season[data.pull_season]
    added = effects(spec, truth.values, data)
    before = truth.reachable[data.pull_season] - data.gone_before
    pulls = np.bincount(lake, minlength=len(data.area))
    # By hazard itself, since it is the same for all pulls of a lake but for the effects.
    base = np.bincount(lake, np.log(truth.hazard) - added) / pulls
    mean_effect = np.bincount(lake, added) / pulls
    found: FloatArray = base + np.log(np.bincount(lake, before) / pulls) + mean_effect
    return found


def chance_to_count(values: Mapping[str, FloatArray], data: ModelData) -> FloatArray:
    """Return the chance of a mark of each pool to count.

    Parameters
    ----------
    values : mapping of str to ndarray, shape (sample,)
        The parameters; those that are missing are 1.
    data : ModelData

    Returns
    -------
    ndarray, shape (sample, pool)
    """
    names = ("reach", "marks_kept", "marking_survival", "clip_kept", "tag_kept")
    reach, kept, alive, clip, tag = (values.get(name, np.ones(1))[:, None] for name in names)
    found: FloatArray = reach * kept * alive * still_marked(data.counts.pool_kinds, clip, tag)
    return found


def step_to(share: FloatArray, chance: FloatArray, data: ModelData) -> FloatArray:
    """Return the step of the walk that leads to each pool's share: `share_at`, turned round.

    Parameters
    ----------
    share, chance : ndarray, shape (pool,) or (sample, pool)
        Of the marks that count, and of a mark to count.
    data : ModelData
    """
    counts = data.counts
    lower, upper = share_range(counts.marks_released, counts.smallest_share)
    room, centre, spread = walk_scale(counts.marks_released, counts.smallest_share, chance)
    way = -room * np.log((share - lower) / (upper - lower)) / spread
    step: FloatArray = centre - (way + np.log(-np.expm1(-way)))
    return step


def mean_share(share: FloatArray, data: ModelData) -> FloatArray:
    """Return the share of each season's marks that counts, shape (season,) or (sample, season)."""
    released = data.counts.marks_released
    found: FloatArray = by_season(released * share, data) / by_season(released, data)
    return found


def by_season(marks: FloatArray, data: ModelData) -> FloatArray:
    """Add up the marks of each season's pools, shape (season,) or (sample, season)."""
    seasons = np.eye(len(data.counts.bound))[data.counts.pool_season]
    found: FloatArray = marks @ seasons
    return found


def _share(truth: Truth, data: ModelData) -> FloatArray:
    """Return the share of each pool's marks that counts."""
    counts = data.counts
    by_pool = truth.counting.astype(float)
    if len(counts.pool_season) != len(by_pool):
        # All batches of a season are one pool.
        by_pool = np.bincount(truth.batch_season, by_pool, len(counts.pool_season))
    share: FloatArray = by_pool / counts.marks_released
    return share


def _weights(truth: Truth, spec: ModelSpec, data: ModelData) -> dict[str, FloatArray]:
    """Return logarithms; where no fish was measured, the distance from the centre in spreads."""
    values = truth.values
    found = {f"log_{name}": np.log(values[name]) for name in ("mean_weight", "condition")
             if name in values}  # fmt: skip
    by_year = spec.part("sizes") == "by_lake_and_year"
    if by_year:
        # In every lake of a design some fish are measured, in seasons without netting none.
        found["log_weight_of_lake"] = np.log(values["weight_of_lake"])
        centre = found["log_weight_of_lake"][data.lake_of_season]
    elif spec.part("pooling") == "lakes":
        centre = np.log(values["mean_weight_typical"])
    else:
        return found
    spread = values["weight_year_spread" if by_year else "weight_spread"]
    level = found["log_mean_weight"]
    known = data.weights.size_known_season
    found["log_mean_weight"] = np.where(known, level, (level - centre) / spread)
    return found


def _carried_step(truth: Truth, winters: Winters, lake: IntArray) -> FloatArray:
    """Return how far the marks that lasted each winter lie from what is expected of them."""
    values = truth.values
    exchanged = values["exchange"] * winters.connected
    chance = (values["survival"] * values["marks_over_winter"] * (1.0 - exchanged))[lake]
    steps = []
    for level in winters.carrying:
        before, after = winters.before[level], winters.after[level]
        needed, p = winters.marks_needed[after], chance[after]
        room = truth.carried[before] + winters.marks_gained[before] - needed + 2.0 * HALF_FISH
        part = (truth.carried[after] - needed + HALF_FISH) / room
        steps.append((_logit(part) - _logit(p)) * np.sqrt(1.0 + room * p * (1.0 - p)))
    return np.concatenate(steps)


def _logit(share: FloatArray) -> FloatArray:
    found: FloatArray = np.log(share) - np.log1p(-share)
    return found
