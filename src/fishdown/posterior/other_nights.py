"""Draws of a fit for the same pulls on other nights: what changes in time is drawn anew.

Differences of nights and drift are fitted to the catches, and so follow whatever these did. Whether
catches change in time as the model says is seen against nights and drift drawn anew.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fishdown.models.data import active_effects
from fishdown.posterior.pull_hazard import log_effect, pull_hazard

if TYPE_CHECKING:
    from collections.abc import Hashable

    import xarray as xr

    from fishdown.models.data import ModelData
    from fishdown.models.spec import ModelSpec
    from fishdown.typing import FloatArray, Numbers


def hazard_on_other_nights(
    few: xr.Dataset, spec: ModelSpec, data: ModelData[Numbers], rng: np.random.Generator
) -> FloatArray:
    """Return the hazard of the pulls as fitted, with nights and drift drawn anew.

    Parameters
    ----------
    few : xarray.Dataset
        Draws of the model's variables, dimensions (sample, …).

    Returns
    -------
    ndarray, shape (draw, pull)
    """
    season = data.catches.season
    pulls = np.maximum(np.bincount(season, minlength=len(data.lake_of_season)), 1)
    for effect in active_effects(spec):
        if not effect.in_time:
            continue
        steps = [one.name for one in effect.steps if one.name in few]
        # Standard normal a priori, as all sampler coordinates.
        few = few.assign({name: _standard_normal(few[name], rng) for name in steps})
        for level in (one.name for one in effect.levels):
            # The mean over the pulls of each season, which the effect subtracts.
            few = few.assign({level: 0.0 * few[level]})
            added = log_effect(few, spec, effect, data.effects[effect.name])
            total = np.zeros((len(pulls), len(added)))
            np.add.at(total, season, added.T)
            few = few.assign({level: (few[level].dims, (total / pulls[:, None]).T)})
    return pull_hazard(few, spec, data.area, data.catches.lake, data.effects)


def _standard_normal(
    draws: xr.DataArray, rng: np.random.Generator
) -> tuple[tuple[Hashable, ...], FloatArray]:
    return draws.dims, rng.standard_normal(draws.shape)
