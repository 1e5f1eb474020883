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
# Total survival of carp in three lakes without removal and with the most of it (Weber et al. 2016,
# Fish. Res. 179:168–178).
_UNNETTED, _NETTED, _MOST = 0.79, 0.54, 0.43
_GAMMA = math.log(math.log(_NETTED / (1.0 - _MOST)) / math.log(_UNNETTED)) / math.log(1.0 - _MOST)
# Parameters that no model has, see `models/README.md`.
OF_STOCK = {
    SHAPE: Prior("lognormal", (2.0, 0.5)),
    COMPENSATION: Prior("lognormal", (_GAMMA, 0.5)),
}
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
