"""The hazard of pulls, draw by draw, in plain numbers.

For pulls that are not in the records: of those that are, `fishdown.posterior.at_draws` asks the
graph itself, and the tests compare the two.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fishdown.models.nets import bait_effect, rest_effect
from fishdown.posterior.cooling import log_relative_hazard, stacked

if TYPE_CHECKING:
    import xarray as xr

    from fishdown.models.data import ModelData
    from fishdown.models.spec import ModelSpec
    from fishdown.typing import FloatArray


def pull_hazard(posterior: xr.Dataset, data: ModelData, spec: ModelSpec) -> FloatArray:
    """Return the hazard of every valid pull.

    Parameters
    ----------
    posterior : xarray.Dataset
        Draws of the model's variables, dimensions (chain, draw, …).
    data : ModelData
        Of the campaign that was fitted.
    spec : ModelSpec
        The model as it was fitted; not mark–recapture only.

    Returns
    -------
    ndarray, shape (draw, pull)
        h, dimensionless; a pull takes the share 1 − exp(−h) of the fish within reach on average.
    """
    lake = data.lake_of_season[data.pull_season]
    if spec.part("catchability") == "per_lake":
        base = -np.log1p(-stacked(posterior["catchability"]))
    else:
        base = stacked(posterior["cleared_ha"]) / data.area
    log_hazard = np.log(base)[:, lake] + log_relative_hazard(
        posterior, spec, _temperatures(posterior, data), lake
    )
    return np.exp(log_hazard + _net_effects(posterior, data, spec))


def _temperatures(posterior: xr.Dataset, data: ModelData) -> FloatArray:
    """Return the temperature of every pull, shape (draw or 1, pull): guesses differ by draw."""
    guess = data.temperature
    if "temperature_step" not in posterior:
        return guess.value[None]
    step = stacked(posterior["temperature_step"])
    temperature = np.repeat(guess.value[None], len(step), axis=0)
    temperature[:, guess.missing] += guess.sd * step
    return temperature


def _net_effects(posterior: xr.Dataset, data: ModelData, spec: ModelSpec) -> FloatArray:
    """Return all other effects on the log-hazard, shape (draw or 1, pull)."""

    def drawn(name: str) -> FloatArray:
        return stacked(posterior[name])[:, None]

    added: FloatArray = np.zeros((1, len(data.caught)))
    if spec.part("nets") == "differ":
        added = added + drawn("net_spread") * stacked(posterior["net_step"])[:, data.net]
    if spec.part("seasons") == "differ":
        step = stacked(posterior["season_step"])[:, data.pull_season]
        added = added + drawn("season_spread") * step
    if spec.part("mesh") == "log_linear":
        added = added + np.log(drawn("mesh_effect")) * data.mesh_doublings
    if spec.part("first_pulls") == "best":
        added = added + np.log(drawn("later_pulls")) * data.later
    if spec.part("rest") == "recovering":
        added = added + rest_effect(data.rest, drawn("rest_loss"), drawn("rest_recovery"))
    if spec.part("bait") == "building":
        added = added + bait_effect(data.bait, drawn("bait_start"), drawn("bait_build_up"))
    return added
