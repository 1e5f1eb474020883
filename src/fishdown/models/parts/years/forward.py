"""Abundance of linked years drawn forward: each season's first fish, given the season before."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from fishdown.models.parts.years.transition import (
    Transition,
    after_movements,
    replaced,
    survival_of_winter,
)

if TYPE_CHECKING:
    from collections.abc import Mapping

    from fishdown.models.parts.years.links import Winters
    from fishdown.typing import FloatArray, IntArray, Numbers


def follow(
    abundance: FloatArray,
    values: Mapping[str, FloatArray],
    winters: Winters[Numbers],
    lake_of_season: IntArray,
    rng: np.random.Generator,
) -> FloatArray:
    """Fill in the seasons that follow another.

    Parameters
    ----------
    abundance : ndarray, shape (draw, season)
        Fish before the first pull; used where a season is its lake's first.
    values : mapping of str to ndarray, shape (draw,) or (draw, lake)
        Draws of the parameters of this part.
    winters : Winters
        What each season took from the lake stands in it.
    lake_of_season : ndarray of int, shape (season,)
    rng : numpy.random.Generator

    Returns
    -------
    ndarray, shape (draw, season)
    """
    found = abundance.copy()
    none: Any = np.zeros(len(abundance))
    first = {int(lake_of_season[start]): int(start) for start in winters.starts}
    for before, after in zip(winters.before, winters.after, strict=True):
        lake = int(lake_of_season[after])
        survival, level = values["survival"][:, lake], found[:, first[lake]]
        recruits = values["replacement"][:, lake] * replaced(survival, level)
        if winters.young_eaten[lake]:
            recruits = recruits * values["young_eaten_effect"]
        luck = rng.standard_normal(len(found))
        left, variance = after_movements(found[:, before], winters, before)
        winter = Transition(
            left=left,
            survival=survival_of_winter(survival, values["winter_spread"], luck),
            recruits=recruits,
            recruit_variation=values["recruit_variation"],
            exchanged=values.get("exchange", none) * winters.connected[lake],
            outside=values.get("outside_ratio", none) * level,
            process_error=values["process_error"],
            left_variance=variance,
        )
        found[:, after] = rng.lognormal(winter.centre, winter.spread)
    return found
