"""Whether the catches of a season would have shown that its marks mislead.

A passed evidence gate says little where the catches are vague; `models/README.md`, "What the gate
cannot see", has the formulas.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fishdown.checks.evidence import DOUBT, marks_trusted
from fishdown.intervals import normal_sd

if TYPE_CHECKING:
    import xarray as xr

    from fishdown.posterior.fit import Fit
    from fishdown.typing import FloatArray

# The fault that is tried: a fifth of the marks lost, so that a fourth too many fish seem there.
LOST, LOST_WORDS = 0.2, "a fifth"
EASIER_WORDS = "a fourth"
# A gate that would notice it less often than this leaves the marks unchecked (our judgement).
NOTICED = 0.5


@dataclass(frozen=True)
class BlindSpot:
    """What becomes of one season if its marks mislead.

    Attributes
    ----------
    noticed : float
        Chance that the gate would at least remark on `LOST` of the marks being lost; NaN where no
        catches were there to hold against the marks.
    fewer, more : float
        Factor of abundance in the joint fit if so many marks were lost, and if marked fish were
        caught as much more readily instead.
    """

    noticed: float
    fewer: float
    more: float


def blind_spot(fit: Fit, season: int) -> BlindSpot | None:
    """Return what the gate cannot see in a season; None where there is nothing of the kind.

    That is where no marks speak, where the model itself doubts them, where the gate speaks
    anyway, and where it would notice in half of such seasons or more.

    Parameters
    ----------
    fit : Fit
    season : int
    """
    compared = "evidence" in fit.tree.children
    # Without catches the marks are all there is; else, where nobody compared, nothing is known.
    if not compared and fit.spec.part("evidence") != "marks":
        return None
    if not marks_trusted(fit.campaign, fit.spec, season):
        return None
    if not compared:
        return BlindSpot(float("nan"), 1.0 - LOST, 1.0 / (1.0 - LOST))
    said = fit.disagreement(season)
    points = fit.tree["evidence"].dataset["abundance"].isel(season=season)
    marks, catches = (points.sel(evidence=kind).values for kind in ("marks", "depletion"))
    if said is None or np.isnan(marks).any() or np.isnan(catches).any() or said.agreement < DOUBT:
        return None
    noticed = chance_to_notice(marks, catches)
    if noticed >= NOTICED:
        return None
    share = weight_of_marks(marks, catches)
    return BlindSpot(noticed, (1.0 - LOST) ** share, (1.0 - LOST) ** -share)


def chance_to_notice(marks: FloatArray, catches: FloatArray, lost: float = LOST) -> float:
    """Return how often the gate would at least remark on a share of the marks being lost.

    Parameters
    ----------
    marks, catches : ndarray, shape (3,)
        Low, median and high of abundance by each alone, 90 % intervals.
    lost : float
        Share of the marks.
    """
    from scipy import stats

    # Lost marks tell of too many fish: the halves that face each other then decide.
    (low, marked, _), (_, caught, high) = np.log(marks), np.log(catches)
    spread = 2.0 * np.hypot(normal_sd(low, marked), normal_sd(caught, high))
    limit = stats.norm.isf(0.5 * DOUBT)
    shift = -np.log1p(-lost) / spread
    return float(stats.norm.cdf(shift - limit) + stats.norm.cdf(-shift - limit))


def weight_of_marks(marks: FloatArray, catches: FloatArray) -> float:
    """Return how far the joint abundance follows the marks, between 0 and 1.

    Parameters
    ----------
    marks, catches : ndarray, shape (3,)
        As in `chance_to_notice`.
    """
    # Of two normal densities of one quantity each weighs by its precision.
    by_marks, by_catches = (normal_sd(low, high) ** 2 for low, _, high in np.log([marks, catches]))
    return float(by_catches / (by_marks + by_catches))


def biomass_if(quantities: xr.Dataset, factor: float, when: str) -> FloatArray:
    """Return the draws of biomass density had there been this many times as many fish.

    Parameters
    ----------
    quantities : xarray.Dataset
        Draws of one season's reported quantities, dimensions (chain, draw).
    factor : float
        Of abundance before netting; what was taken out stays what it was.
    when : {"before", "after"}
        Netting.

    Returns
    -------
    ndarray, shape (chain, draw)
        kg/ha.
    """
    before, after = (quantities[f"abundance_{time}"].values for time in ("before", "after"))
    removed = before - after if when == "after" else 0.0
    each = quantities["biomass_before"].values / before
    left: FloatArray = np.maximum(factor * before - removed, 0.0) * each
    return left
