"""What the pulls of a season have in common but temperature."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fishdown.models.data import active_effects
from fishdown.models.inputs import of_pulls
from fishdown.models.parts.temperature import TEMPERATURE
from fishdown.posterior.pull_hazard import log_effect

if TYPE_CHECKING:
    import xarray as xr

    from fishdown.models.data import ModelData
    from fishdown.models.spec import ModelSpec
    from fishdown.typing import BoolArray, FloatArray, Numbers


def other_effects(
    posterior: xr.Dataset, spec: ModelSpec, data: ModelData[Numbers]
) -> tuple[FloatArray, ...]:
    """Return what all effects but temperature add to the log-hazard of a season's pulls, averaged.

    Returns
    -------
    tuple of ndarray, shape (draw, 1)
        Of each season; zeros where it has no pulls.
    """
    draws = posterior.sizes["chain"] * posterior.sizes["draw"]
    found = []
    for season in range(posterior.sizes["season"]):
        total = np.zeros((draws, 1))
        mine: BoolArray = data.catches.season == season
        for effect in active_effects(spec):
            if effect is not TEMPERATURE and mine.any():
                inputs = of_pulls(data.effects[effect.name], mine)
                added = log_effect(posterior, spec, effect, inputs)
                total = total + added.mean(axis=1, keepdims=True)
        found.append(total)
    return tuple(found)
