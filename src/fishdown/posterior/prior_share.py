"""Share of the uncertainty about a season's abundance that the priors determine.

All priors that bear on the season are raised to a power α. The variance of a quantity x
under the posterior then changes, at α = 1, by

    d ln Var(x) / dα = Cov((x − x̄)², ln π) / Var(x),

π being the product of these priors. For normal priors and data its negative is the prior's
weight in the posterior mean, P/(P + L) for prior precision P and data precision L (Gelman et
al. 2013, Bayesian Data Analysis, section 2.5; from memory). It also holds for a
product: where only abundance times catchability is identifiable, the variance of each is narrower
than that of its own prior, and the priors determine all of it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import xarray as xr

from fishdown.models.data import model_data
from fishdown.models.parts import unreported
from fishdown.posterior.at_draws import thinned
from fishdown.posterior.log_priors import log_priors_by_season
from fishdown.words import percent_with_error

if TYPE_CHECKING:
    from fishdown.campaign import Campaign
    from fishdown.models.spec import ModelSpec
    from fishdown.typing import FloatArray

# Above the first share a statement says so; it is withheld where the share lies above the second by
# two standard errors (our judgement, no source).
MUCH = 0.5
NEARLY_ALL = 0.8


def prior_shares(posterior: xr.Dataset, campaign: Campaign, spec: ModelSpec) -> xr.Dataset:
    """Return the share of the uncertainty about each season's abundance that the priors determine.

    Parameters
    ----------
    posterior : xarray.Dataset
        Draws of the model's variables, dimensions (chain, draw, …).
    campaign : Campaign
    spec : ModelSpec
        The model as it was fitted.

    Returns
    -------
    xarray.Dataset
        ``prior_share`` (season), of the variance of the logarithm of abundance, between 0 and 1;
        ``mc_error`` (season), its Monte-Carlo standard error.
    """
    data = model_data(campaign, spec)
    drawn = posterior.transpose("chain", "draw", ...)
    size = (drawn.sizes["chain"], drawn.sizes["draw"])
    flat = thinned(drawn)
    fish = np.log(drawn["abundance"].values)
    log_prior = np.zeros(fish.shape)
    # What is published of marks is no guess made for want of records.
    published = unreported(spec.parts)
    for name, density in log_priors_by_season(flat, spec, data).items():
        if name not in published:
            log_prior += density.reshape(*size, -1)
    found = [
        prior_share(fish[:, :, season], log_prior[:, :, season]) for season in range(fish.shape[2])
    ]
    shares, errors = np.array(found).T
    return xr.Dataset(
        {
            "prior_share": (
                "season",
                shares,
                {
                    "units": "1",
                    "long_name": "share of the variance of ln abundance determined by the priors",
                },
            ),
            "mc_error": (
                "season",
                errors,
                {"units": "1", "long_name": "Monte-Carlo standard error of that share"},
            ),
        },
        coords={"season": campaign.seasons["season"].values},
    )


def mostly_prior(told: xr.Dataset, season: int) -> str:
    """State that the priors determine nearly all of a season's abundance; empty if they do not.

    Parameters
    ----------
    told : xarray.Dataset
        From `prior_shares`.
    season : int
        Its position.
    """
    share, error = (float(told[name][season]) for name in ("prior_share", "mc_error"))
    if share - 2.0 * error <= NEARLY_ALL:
        return ""
    return (
        "the records hardly inform abundance: nearly all of its uncertainty "
        f"({percent_with_error(share, error)}) comes from assumptions made before any record"
    )


def prior_share(values: FloatArray, log_prior: FloatArray) -> tuple[float, float]:
    """Return the share of the variance of a quantity that a prior determines, and its error.

    Parameters
    ----------
    values : ndarray, shape (chain, draw)
        Draws of the quantity on an unbounded scale, such as the logarithm of fish.
    log_prior : ndarray, shape (chain, draw)
        Logarithm of the prior's density at these draws.

    Returns
    -------
    share : float
        Drawn in to between 0 and 1: a prior of an odd shape may narrow what it is taken from.
    mc_error : float
        Its Monte-Carlo standard error.
    """
    from arviz_stats.base import array_stats

    squares = (values - values.mean()) ** 2
    variance = float(squares.mean())
    if variance == 0.0:
        return 0.0, 0.0
    terms = -(squares - variance) * (log_prior - log_prior.mean()) / variance
    effective = float(array_stats.ess(terms, method="mean"))
    return float(np.clip(terms.mean(), 0.0, 1.0)), float(terms.std() / np.sqrt(effective))
