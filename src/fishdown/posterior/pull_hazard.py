"""The hazard of pulls, draw by draw, in plain numbers; the tests compare it with the graph's.

Of pulls in the records and of pulls to come.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from fishdown.errors import FitError
from fishdown.models.array_library import NUMPY
from fishdown.models.data import active_effects
from fishdown.models.parts.scatter import scattered

if TYPE_CHECKING:
    from collections.abc import Mapping

    import xarray as xr

    from fishdown.models.part import Effect
    from fishdown.models.spec import ModelSpec
    from fishdown.typing import FloatArray, IntArray


def pull_hazard(
    posterior: xr.Dataset,
    spec: ModelSpec,
    area: FloatArray,
    lake: IntArray,
    inputs: Mapping[str, Any],
) -> FloatArray:
    """Return the hazard of pulls.

    Parameters
    ----------
    posterior : xarray.Dataset
        Draws of the model's variables, dimensions (chain, draw, …) or (sample, …).
    spec : ModelSpec
        The model as it was fitted; not mark–recapture only.
    area : ndarray, shape (lake,)
        ha.
    lake : ndarray of int, shape (pull,)
        Position of each pull's lake.
    inputs : mapping
        Of each effect for these pulls, by its name.

    Returns
    -------
    ndarray, shape (draw, pull)
        h, dimensionless; a pull takes the share 1 − exp(−h) of the vulnerable fish on average.

    Raises
    ------
    FitError
        If the posterior lacks the catchability of the lakes.
    """
    base = _base_hazard(posterior, spec, area)
    return np.exp(np.log(base)[:, lake] + log_effects(posterior, spec, inputs))


def schooling_of_pulls(
    posterior: xr.Dataset, spec: ModelSpec, area: FloatArray, lake: IntArray, hazard: FloatArray
) -> FloatArray | None:
    """Return the coefficient of variation of the share that each pull takes.

    Parameters
    ----------
    posterior, spec, area, lake
        As in `pull_hazard`.
    hazard : ndarray, shape (draw, pull)
        Its result.

    Returns
    -------
    ndarray, shape (draw, pull), or None
        None when fish come by chance.
    """
    if "schooling" not in posterior:
        return None
    schooling: FloatArray = stacked(posterior["schooling"])[:, lake]
    if "scatter_exponent" in posterior:
        effects = np.log(hazard) - np.log(_base_hazard(posterior, spec, area))[:, lake]
        exponent = stacked(posterior["scatter_exponent"])[:, None]
        schooling = scattered(schooling, effects, exponent)
    return schooling


def _base_hazard(posterior: xr.Dataset, spec: ModelSpec, area: FloatArray) -> FloatArray:
    """Return each lake's hazard before all effects, shape (draw, lake)."""
    by_share = spec.part("catchability") == "per_lake"
    name = "catchability" if by_share else "area_fished_ha"
    if name not in posterior:
        raise FitError(f"the posterior holds no draws of {name}; fit again")
    values = stacked(posterior[name])
    return -np.log1p(-values) if by_share else values / area


def log_effects(posterior: xr.Dataset, spec: ModelSpec, inputs: Mapping[str, Any]) -> FloatArray:
    """Return what all effects of a model add to the log-hazard of pulls.

    Parameters
    ----------
    inputs : mapping
        Of each effect, by its name, for the pulls to answer for.

    Returns
    -------
    ndarray, shape (draw or 1, pull)
    """
    added: FloatArray = np.zeros((1, 1))
    for effect in active_effects(spec):
        added = added + log_effect(posterior, spec, effect, inputs[effect.name])
    return added


def log_effect(posterior: xr.Dataset, spec: ModelSpec, effect: Effect, inputs: Any) -> FloatArray:
    """Return what one effect of a model adds, shape (draw or 1, pull)."""
    choice = spec.part(effect.name)
    values = _values(posterior, effect, choice)
    added: FloatArray = effect.log_effect(NUMPY, choice, inputs, values, spec.reference_temperature)
    return added


def _values(posterior: xr.Dataset, effect: Effect, choice: str) -> dict[str, FloatArray]:
    """Return the draws of what an effect depends on, with an axis for draws in front.

    Returns
    -------
    dict of str to ndarray, shape (draw, 1) or (draw, …)
        Parameters, steps and levels by name; those that the graph did not need are left out.
    """
    found = {}
    for name in effect.choices[choice]:
        variable = effect.called(choice, name)
        if variable in posterior:
            drawn = stacked(posterior[variable])
            found[name] = drawn if effect.parameters[name].by_lake else drawn[:, None]
    others = [one.name for one in effect.steps] + [one.name for one in effect.levels]
    return found | {name: stacked(posterior[name]) for name in others if name in posterior}


def stacked(draws: xr.DataArray) -> FloatArray:
    """Lay the draws of all chains one behind the other, shape (draw, …).

    Draws that lie so already, in the dimension ``sample``, are returned as they are.
    """
    if "sample" in draws.dims:
        return draws.transpose("sample", ...).values
    values = draws.transpose("chain", "draw", ...).values
    return values.reshape(-1, *values.shape[2:])
