"""Truth and draws in whole fish, as they are ranked.

The sampler walks over a continuous number, which stands for the whole number nearest to it; where
in that stretch of one fish it lies means nothing. In a lake that was emptied nothing else would be
ranked.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fishdown.models.ledger import HALF_FISH
from fishdown.models.thinning import share_range

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
    room = np.exp(few["log_room"].values)
    whole_room = np.floor(room) + HALF_FISH
    more = whole_room - room
    moved = {"log_room": (few["log_room"].dims, np.log(whole_room))}
    if "logit_share" in few:
        marks = counts.marks_released
        lower, upper = share_range(marks, counts.smallest_share)
        part = 1.0 / (1.0 + np.exp(-few["logit_share"].values))
        share = lower + (upper - lower) * part
        whole_share = np.floor(marks * share + HALF_FISH) / np.maximum(marks, 1.0)
        part = np.clip((whole_share - lower) / (upper - lower), _END, 1.0 - _END)
        gained = marks * (lower + (upper - lower) * part - share)
        for pool, season in enumerate(counts.pool_season):
            more[:, season] += gained[:, pool]
        moved["logit_share"] = (few["logit_share"].dims, np.log(part) - np.log1p(-part))
    reach = few["reach"].values.reshape(-1, 1) if "reach" in few else 1.0
    moved["abundance"] = (few["abundance"].dims, few["abundance"].values + more / reach)
    return few.assign(moved)
