"""Share of the posterior determined by the prior, for quantities common to all lakes.

The measure is posterior variance over prior variance, on the scale on which the prior is closest to
normal: logit for shares, logarithm for what is above zero. For a normal prior and normal data
the posterior mean is the weighted mean of the prior mean and the estimate from the data, and this
ratio is the prior's weight (Gelman et al. 2013, Bayesian Data Analysis, section 2.5; from memory).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from scipy.special import logit, polygamma

from fishdown.intervals import INTERVAL
from fishdown.posterior.quantities import common, quantities
from fishdown.words import part_words

if TYPE_CHECKING:
    from fishdown.models.priors import Prior
    from fishdown.posterior.fitted import FittedCampaign
    from fishdown.typing import FloatArray

COLUMNS = ("quantity", "prior_part", "mc_error", "statement")
# Identified, if at all, only by mark–recapture and depletion together.
ELUSIVE = ("vulnerable", "mark_retention")


def prior_parts(fit: FittedCampaign) -> pd.DataFrame:
    """Tabulate the share of each common quantity's posterior that its prior determines.

    Parameters
    ----------
    fit : FittedCampaign

    Returns
    -------
    pandas.DataFrame
        Columns `COLUMNS`, one row for each quantity of `fishdown.posterior.quantities.common` that
        the fit reports. ``prior_part`` lies between 0 (all from the records) and 1 (all from the
        prior); ``mc_error`` is its Monte-Carlo standard error. The statement is empty unless the
        quantity is identified only by mark–recapture and depletion together.
    """
    rows = []
    for name in common():
        if name in fit.quantities:
            prior = fit.spec.priors[name]
            draws = fit.quantities[name].transpose("chain", "draw").values
            part, error = prior_part(prior, draws)
            said = _statement(name, prior, draws, part) if name in ELUSIVE else ""
            rows.append((name, part, error, said))
    return pd.DataFrame(rows, columns=list(COLUMNS))


def prior_part(prior: Prior, draws: FloatArray) -> tuple[float, float]:
    """Return posterior variance over prior variance, at most 1, and its Monte-Carlo error.

    Parameters
    ----------
    prior : Prior
    draws : ndarray, shape (chain, draw)
        On the prior's own scale.
    """
    from arviz_stats.base import array_stats

    first, second = prior.numbers
    match prior.family:
        case "beta":
            moved, variance = logit(draws), float(polygamma(1, first) + polygamma(1, second))
        case "logitnormal":
            moved, variance = logit(draws), second**2
        case "lognormal":
            moved, variance = np.log(draws), second**2
        case _:
            moved, variance = draws, second**2
    squares = (moved - moved.mean()) ** 2
    effective = float(array_stats.ess(squares, method="mean"))
    part = float(squares.mean()) / variance
    error = float(squares.std()) / np.sqrt(effective) / variance
    return min(part, 1.0), float(error)


def _statement(name: str, prior: Prior, draws: FloatArray, part: float) -> str:
    meaning = quantities()[name].meaning
    said = (
        f"{meaning[:1].upper()}{meaning[1:]}: the prior determines {part_words(part)} of the "
        "posterior variance"
    )
    low, high = prior.interval(INTERVAL)
    if not low <= float(np.median(draws)) <= high:
        return f"{said}, yet the posterior median lies outside the prior's 90 % interval."
    if part > 0.95:
        return f"{said}; mark–recapture and depletion hold next to no information on it."
    return f"{said}; the comparison of mark–recapture with depletion determines the rest."
