"""Power of the catches of a season to detect that its marks are biased.

A passed evidence gate means little where the depletion estimate is imprecise; `models/README.md`,
"What the gate cannot detect", has the formulas.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fishdown.checks.evidence import marks_trusted
from fishdown.intervals import normal_sd
from fishdown.models.parts.weights.left import log_left
from fishdown.posterior.disagreement import DOUBT
from fishdown.posterior.fish_weights import selectivity_of

if TYPE_CHECKING:
    import xarray as xr

    from fishdown.posterior.fitted import FittedCampaign
    from fishdown.typing import FloatArray

# The fault examined: a fifth of the marks lost, so that abundance is overestimated by a quarter.
LOST, LOST_WORDS = 0.2, "a fifth"
EASIER_WORDS = "a quarter"
# With less power than this the marks count as untested (our judgement).
NOTICED = 0.5


@dataclass(frozen=True)
class BlindSpot:
    """Consequences of biased marks in one season.

    Attributes
    ----------
    noticed : float
        Probability that the gate would at least remark on the loss of `LOST` of the marks; NaN
        where there are no catches to test the marks against.
    fewer, more : float
        Factor of abundance in the joint fit if so many marks were lost, and if marked fish were
        correspondingly easier to catch instead.
    """

    noticed: float
    fewer: float
    more: float


def blind_spot(fit: FittedCampaign, season: int) -> BlindSpot | None:
    """Return the consequences of biased marks that the gate would miss; None if not applicable.

    Not applicable are seasons without recapture data, models that estimate mark loss or uneven
    recapture, seasons on which the gate remarks anyway, and those in which its power is at least
    one half.

    Parameters
    ----------
    season : int
    """
    compared = "evidence" in fit.tree.children
    # Without catches there are only marks; otherwise, without a comparison, the power is unknown.
    if not compared and fit.spec.part("evidence") != "marks":
        return None
    if not marks_trusted(fit.campaign, fit.spec, season):
        return None
    if not compared:
        return BlindSpot(float("nan"), 1.0 - LOST, 1.0 / (1.0 - LOST))
    said = fit.disagreement(season)
    points = fit.tree["evidence"].dataset["abundance"].isel(season=season)
    marks, catches = (points.sel(evidence=kind).values for kind in ("marks", "depletion"))
    if (
        said is None
        or np.isnan(marks).any()
        or np.isnan(catches).any()
        or said.tail_probability < DOUBT
    ):
        return None
    noticed = chance_to_notice(marks, catches)
    if noticed >= NOTICED:
        return None
    share = weight_of_marks(marks, catches)
    return BlindSpot(noticed, (1.0 - LOST) ** share, (1.0 - LOST) ** -share)


def chance_to_notice(marks: FloatArray, catches: FloatArray, lost: float = LOST) -> float:
    """Return the probability that the gate would at least remark on the loss of a share of marks.

    Parameters
    ----------
    marks, catches : ndarray, shape (3,)
        Low, median and high of abundance from each only, 90 % intervals.
    lost : float
        Share of the marks.
    """
    from scipy import stats

    # Lost marks overestimate abundance: the facing halves of the two intervals decide.
    (low, marked, _), (_, caught, high) = np.log(marks), np.log(catches)
    spread = 2.0 * np.hypot(normal_sd(low, marked), normal_sd(caught, high))
    limit = stats.norm.isf(0.5 * DOUBT)
    shift = -np.log1p(-lost) / spread
    return float(stats.norm.cdf(shift - limit) + stats.norm.cdf(-shift - limit))


def weight_of_marks(marks: FloatArray, catches: FloatArray) -> float:
    """Return the weight of the marks in the joint estimate of abundance, between 0 and 1.

    Parameters
    ----------
    marks, catches : ndarray, shape (3,)
        As in `chance_to_notice`.
    """
    # Two normal estimates of one quantity are weighted by their precisions.
    by_marks, by_catches = (normal_sd(low, high) ** 2 for low, _, high in np.log([marks, catches]))
    return float(by_catches / (by_marks + by_catches))


def biomass_if(quantities: xr.Dataset, factor: float, when: str, area: float) -> FloatArray:
    """Return the draws of biomass density if abundance before netting is multiplied by a factor.

    Parameters
    ----------
    quantities : xarray.Dataset
        Draws of one season's reported quantities, dimensions (chain, draw).
    factor : float
        Of abundance before netting; the removal is unchanged.
    when : {"before", "after"}
        Netting.
    area : float
        Of the lake at the last pull, ha.

    Returns
    -------
    ndarray, shape (chain, draw)
        kg/ha.
    """
    before, after = (quantities[f"abundance_{time}"].values for time in ("before", "after"))
    if when == "before":
        return factor * quantities["biomass_before"].values
    gone = before - after
    left = np.maximum(factor * before - gone, 0.0)
    # Nets that select by size change the mean weight by the share of the fish that is left.
    selectivity = selectivity_of(quantities)
    further = log_left(factor * before, gone) - log_left(before, gone)
    weight = quantities["mean_weight_left"].values * np.exp((selectivity - 1.0) * further)
    found: FloatArray = left * weight / area
    return found
