"""Where the sampler would stand at a known truth: its working variables from the parameters.

The joint log-likelihood of the truth is then evaluated by the same graph, in the same call, as
that of the draws. `fishdown.models.graph`, `hazard` and `weighing` say what the sampler walks over.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import xarray as xr

from fishdown.calibration.truth import effects
from fishdown.models.ledger import HALF_FISH, share_range

if TYPE_CHECKING:
    from fishdown.calibration.truth import Truth
    from fishdown.models.data import ModelData
    from fishdown.models.spec import ModelSpec
    from fishdown.typing import FloatArray


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
    known = truth.values | walked(truth, spec, data)
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
    by_pool = truth.counting.astype(float)
    season_of = counts.pool_season
    if len(season_of) != len(by_pool):
        # All batches of a season are one pool.
        by_pool = by_pool.reshape(len(season_of), -1).sum(axis=1)
    marks = np.bincount(season_of, by_pool, len(truth.abundance))
    unmarked = truth.reachable - marks
    lower, upper = share_range(counts.marks_released, counts.smallest_share)
    above = (by_pool / counts.marks_released - lower) / (upper - lower)
    found = {
        "log_room": np.log(unmarked - counts.bound + HALF_FISH),
        "logit_share": np.log(above) - np.log1p(-above),
        **{
            f"log_{name}": np.log(truth.values[name])
            for name in ("mean_weight", "condition")
            if name in truth.values
        },
    }
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
