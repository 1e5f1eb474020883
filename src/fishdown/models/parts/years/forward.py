"""Abundance of linked years drawn forward: each season's first fish, given the season before."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from fishdown.models.parts.years.links import expected_fish, spread_of_start

if TYPE_CHECKING:
    from collections.abc import Mapping

    from fishdown.models.parts.years.links import Winters
    from fishdown.typing import FloatArray, IntArray, Numbers


def follow(
    abundance: FloatArray,
    values: Mapping[str, FloatArray],
    winters: Winters[Numbers],
    area: FloatArray,
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
    area : ndarray, shape (lake,)
        ha.
    lake_of_season : ndarray of int, shape (season,)
    rng : numpy.random.Generator

    Returns
    -------
    ndarray, shape (draw, season)
    """
    found = abundance.copy()
    none: Any = np.zeros(len(abundance))
    for before, after in zip(winters.before, winters.after, strict=True):
        lake = lake_of_season[after]
        recruits = values["recruits"][:, lake] * area[lake]
        expected = expected_fish(
            np.maximum(found[:, before] - winters.gone[before], 0.0),
            values["survival"],
            recruits,
            values.get("exchange", none) * winters.connected[lake],
            values.get("outside_density", none) * area[lake],
        )
        spread = spread_of_start(
            expected, recruits, values["recruit_variation"], values["process_error"]
        )
        found[:, after] = rng.lognormal(np.log(expected) - 0.5 * spread**2, spread)
    return found
