"""Truth and draws in whole fish, as they are ranked.

The sampler walks over a continuous number, which stands for the whole number nearest to it; where
in that stretch of one fish it lies means nothing. In a lake that was emptied nothing else would be
ranked.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fishdown.calibration.walked import by_season, chance_to_count, mean_share, share_walk
from fishdown.models.whole_numbers import HALF_FISH
from fishdown.posterior.at_draws import rates_at_draws

if TYPE_CHECKING:
    import xarray as xr

    from fishdown.models.data import ModelData
    from fishdown.typing import Numbers

# Where the nearest whole number lies below the bound.
LEAST_ROOM = 1e-3


def in_whole_fish(few: xr.Dataset, data: ModelData[Numbers]) -> xr.Dataset:
    """Move unmarked fish, and marks that count, to the nearest whole number.

    Marks that lasted a winter stay as they are: how many there can be depends on the draw.

    Parameters
    ----------
    few : xarray.Dataset
        Draws of the model's variables, dimensions (sample, …), the abundance among them.
    data : ModelData
        Of the campaign that was fitted.
    """
    counts = data.counts
    values = {str(name): few[name].values for name in few.data_vars}
    room, marks, mean = np.exp(values["log_room"]), counts.marks_at_start, np.ones(1)
    moved = {}
    if "share_step" in few:
        released, chance = counts.marks_released, chance_to_count(values, data)
        walk = share_walk(chance, data)
        share = walk.reached(values["share_step"])
        room = room * mean_share(share, data)
        # No fewer than were seen again, which floating point might have it.
        seen = np.rint(released * counts.smallest_share)
        share = np.maximum(np.floor(released * share + HALF_FISH), seen) / released
        mean = mean_share(share, data)
        moved["share_step"] = (few["share_step"].dims, walk.walked(share))
        # Where some of the marks come later, those at the start are a part of them.
        marks = np.rint(released * share) * (marks / released)
    # All fish that the bound knows of are whole, so the room above it is, but for its half fish and
    # for those that must have been there since some died.
    needed = rates_at_draws(few).needed(data.times.gone, data.times.end)
    room = np.floor(room + needed)
    above = np.maximum(room - needed + HALF_FISH, LEAST_ROOM)
    moved["log_room"] = (few["log_room"].dims, np.log(above / mean))
    # Exactly, and not by what they moved: whole fish are ranked at random where they are equal.
    fish = counts.bound + room + by_season(marks, data)
    if "carried_marks" in few:
        fish = fish + values["carried_marks"]
    vulnerable = values["vulnerable"][:, None] if "vulnerable" in few else 1.0
    moved["abundance"] = (few["abundance"].dims, fish / vulnerable)
    return few.assign(moved)
