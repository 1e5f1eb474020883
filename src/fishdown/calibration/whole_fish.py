"""Truth and draws in whole fish, as they are ranked.

The sampler walks over a continuous number, which stands for the whole number nearest to it; where
in that stretch of one fish it lies means nothing. In a lake that was emptied nothing else would be
ranked.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy.special import expit, logit

from fishdown.calibration.walked import chance_to_count
from fishdown.models.ledger import HALF_FISH
from fishdown.models.thinning import share_range, share_walk

if TYPE_CHECKING:
    import xarray as xr

    from fishdown.models.data import ModelData

# So near may a share come to the ends of its range, in parts of the range.
_END = 1e-9


def in_whole_fish(few: xr.Dataset, data: ModelData) -> xr.Dataset:
    """Move unmarked fish, and marks that count, to the nearest whole number.

    Marks that lasted a winter stay as they are: how many there can be depends on the draw.

    Parameters
    ----------
    few : xarray.Dataset
        Draws of the model's variables, dimensions (sample, …), the abundance among them.
    data : ModelData
        Of the campaign that was fitted.

    Returns
    -------
    xarray.Dataset
    """
    counts = data.counts
    # All fish that the bound knows of are whole, so the room above it is, but for its half fish.
    room = np.floor(np.exp(few["log_room"].values))
    moved = {"log_room": (few["log_room"].dims, np.log(room + HALF_FISH))}
    fish = counts.bound + room
    marks = counts.marks_at_start
    values = {str(name): few[name].values for name in few.data_vars}
    if "share_step" in few:
        released = counts.marks_released
        lower, upper = share_range(released, counts.smallest_share)
        centre, scale = share_walk(released, counts.smallest_share, chance_to_count(values, data))
        share = lower + (upper - lower) * expit(centre + scale * values["share_step"])
        counting = np.floor(released * share + HALF_FISH)
        share = counting / np.maximum(released, 1.0)
        part = np.clip((share - lower) / (upper - lower), _END, 1.0 - _END)
        moved["share_step"] = (few["share_step"].dims, (logit(part) - centre) / scale)
        # Where some of the marks come later, those at the start are a part of them.
        marks = counting * (marks / np.maximum(released, 1.0))
    # Exactly, and not by what they moved: whole fish are ranked by lot where they are the same.
    for pool, season in enumerate(counts.pool_season):
        fish[:, season] += np.broadcast_to(marks, (len(fish), len(counts.pool_season)))[:, pool]
    if "carried_marks" in few:
        fish = fish + values["carried_marks"]
    reach = values["reach"][:, None] if "reach" in few else 1.0
    moved["abundance"] = (few["abundance"].dims, fish / reach)
    return few.assign(moved)
