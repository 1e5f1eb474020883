"""How the young fish of a year depend on the adults, and survival on what was netted.

`models/README.md`, section "Years ahead", has the mathematics and the sources of the priors.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from fishdown.models.priors import Prior

if TYPE_CHECKING:
    from fishdown.typing import FloatArray

SHAPE, COMPENSATION = "stock_shape", "survival_compensation"
STRONG_YEARS = CHANCE, SIZE = "strong_chance", "strong_size"
# Total survival of carp in three lakes without removal and with the most of it (Weber et al. 2016,
# Fish. Res. 179:168–178).
_UNNETTED, _NETTED, _MOST = 0.79, 0.54, 0.43
_GAMMA = math.log(math.log(_NETTED / (1.0 - _MOST)) / math.log(_UNNETTED)) / math.log(1.0 - _MOST)
# Parameters that no model has, see `models/README.md`.
OPTIONAL = {
    SHAPE: Prior("lognormal", (2.0, 0.5)),
    COMPENSATION: Prior("lognormal", (_GAMMA, 0.5)),
    CHANCE: Prior("logitnormal", (0.1, 0.7)),
    SIZE: Prior("lognormal", (5.0, 0.5)),
}
# Standard deviation of the logarithm of strong year classes of one lake. Our judgement.
_SIZES_DIFFER = 0.5
# Adults are never fewer than this share of the lake's level, or an empty lake would have no
# logarithm.
_FEWEST = 1e-6


def by_stock(adults: FloatArray, level: FloatArray, shape: FloatArray) -> FloatArray:
    """Return the ratio of recruits to those at the lake's own level.

    Ricker, W.E. 1954. Stock and recruitment. Journal of the Fisheries Research Board of Canada
    11:559–623.

    Parameters
    ----------
    adults, level : ndarray
        Fish, and fish of the lake's own level.
    shape : ndarray
        Most young are born at the level divided by this; above 0.
    """
    share = np.maximum(adults / level, _FEWEST)
    ratio: FloatArray = share * np.exp(shape * (1.0 - share))
    return ratio


def strong_years(
    chance: FloatArray, size: FloatArray, years: int, rng: np.random.Generator
) -> FloatArray:
    """Draw the recruits of each year, ratio to those of an average year, with strong years.

    Parameters
    ----------
    chance : ndarray, shape (chain, draw)
        Probability of a strong year class in a year, between 0 and 1.
    size : ndarray, shape (chain, draw)
        Median of its recruits, ratio to those of an ordinary year.
    years : int
    rng : numpy.random.Generator

    Returns
    -------
    ndarray, shape (year, chain, draw)
        Of mean 1 over the years.
    """
    strong = rng.uniform(size=(years, *chance.shape)) < chance
    sizes = size * np.exp(_SIZES_DIFFER * rng.standard_normal(strong.shape))
    mean = 1.0 + chance * (size * np.exp(0.5 * _SIZES_DIFFER**2) - 1.0)
    ratio: FloatArray = np.where(strong, sizes, 1.0) / mean
    return ratio


def compensated(survival: FloatArray, netted: FloatArray, power: FloatArray) -> FloatArray:
    """Return the natural survival of the fish that netting left.

    Parameters
    ----------
    survival : ndarray
        Natural survival without netting, between 0 and 1.
    netted : ndarray
        Share of the fish that was netted in the season before.
    power : ndarray
        Natural mortality falls with this power of the share left; 0 for no compensation.
    """
    left: FloatArray = survival ** ((1.0 - netted) ** power)
    return left
