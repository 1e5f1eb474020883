"""Share of the uncertainty about a quantity that the priors determine: the one measure of it.

All priors that bear on a quantity x are raised to a power α. Its variance under the posterior then
changes, at α = 1, by

    d ln Var(x) / dα = Cov((x − x̄)², ln π) / Var(x),

π being the product of these priors. For normal priors and data its negative is the prior's
weight in the posterior mean, P/(P + L) for prior precision P and data precision L (Gelman et
al. 2013, Bayesian Data Analysis, section 2.5; from memory). It also holds for a
product: where only abundance times catchability is identifiable, the variance of each is narrower
than that of its own prior, and the priors determine all of it.

`fishdown.posterior.codes.FromPrior` has what is said of it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
import xarray as xr

from fishdown.models.data import model_data
from fishdown.models.parts import unreported
from fishdown.posterior.at_draws import thinned
from fishdown.posterior.codes import FromPrior
from fishdown.posterior.log_priors import log_priors, log_priors_by_season, natural_scale
from fishdown.sentences import Said
from fishdown.words import percent_with_error

if TYPE_CHECKING:
    from fishdown.campaign import Campaign
    from fishdown.models.data import ModelData
    from fishdown.models.spec import ModelSpec
    from fishdown.typing import FloatArray, Numbers

COLUMNS = ("lake", "season", "quantity", "prior_share", "mc_error", "most", "rests_on")
# Limits of the share (our judgement, no source): up to the first the data determine a quantity;
# from the second on the verdict on it says so; above the third, by two standard errors, it is
# withheld.
SOME, MUCH, MOST = 0.2, 0.5, 0.8


def shares_of_abundance(posterior: xr.Dataset, campaign: Campaign, spec: ModelSpec) -> xr.Dataset:
    """Return the share of the uncertainty about each season's abundance that the priors determine.

    Priors published for marks are left out: they are no guess made for want of records.

    Parameters
    ----------
    posterior : xarray.Dataset
        Draws of the model's variables, dimensions (chain, draw, …).

    Returns
    -------
    xarray.Dataset
        ``prior_share`` (season), of the variance of the logarithm of abundance, between 0 and 1;
        ``mc_error`` (season), its Monte-Carlo standard error.
    """
    fish = np.log(posterior["abundance"].transpose("chain", "draw", "season").values)
    published = unreported(spec.parts)
    priors = log_priors_by_season(thinned(posterior), spec, model_data(campaign, spec))
    total: FloatArray = sum(
        (density for name, density in priors.items() if name not in published), np.zeros(1)
    )
    log_prior = total.reshape(fish.shape)
    found = [
        prior_share(fish[:, :, season], log_prior[:, :, season]) for season in range(fish.shape[2])
    ]
    shares, errors = np.array(found).T
    share = "share of the variance of ln abundance determined by the priors"
    error = "Monte-Carlo standard error of that share"
    return xr.Dataset(
        {
            "prior_share": ("season", shares, {"units": "1", "long_name": share}),
            "mc_error": ("season", errors, {"units": "1", "long_name": error}),
        },
        coords={"season": campaign.seasons["season"].values},
    )


def mostly_prior(told: xr.Dataset, season: int) -> str:
    """State that the priors determine nearly all of a season's abundance; empty if they do not.

    Parameters
    ----------
    told : xarray.Dataset
        From `shares_of_abundance`.
    """
    share, error = (float(told[name][season]) for name in ("prior_share", "mc_error"))
    if share - 2.0 * error <= MOST:
        return ""
    return str(Said(FromPrior.NEARLY_ALL, {"shown": percent_with_error(share, error)}))


def prior_shares(
    posterior: xr.Dataset,
    quantities: xr.Dataset,
    campaign: Campaign,
    spec: ModelSpec,
    data: ModelData[Numbers],
) -> pd.DataFrame:
    """Tabulate the share of the uncertainty about every quantity that all priors determine.

    Parameters
    ----------
    posterior : xarray.Dataset
        Draws of the model's variables, dimensions (chain, draw, …).
    quantities : xarray.Dataset
        Draws of the reported quantities, dimensions (chain, draw) or (chain, draw, season).
    data : ModelData
        The records as the model sees them.

    Returns
    -------
    pandas.DataFrame
        Columns `COLUMNS`: ``prior_share``, between 0 and 1, and ``mc_error``, its Monte-Carlo
        standard error; ``most``, the parameter whose prior determines most; ``rests_on``, "data",
        "data and prior" or "prior". Lake and season are empty for what is common to all lakes.
        Quantities that do not vary have no row.
    """
    few = thinned(posterior)
    by_season = log_priors_by_season(few, spec, data)
    # Not the sum over seasons: those of a lake share its parameters.
    everywhere = log_priors(few, spec, data)
    seasons = campaign.seasons
    rows = []
    for name, array in quantities.data_vars.items():
        of_season = "season" in array.dims
        for season in range(array.sizes["season"] if of_season else 1):
            values = (array.isel(season=season) if of_season else array).values
            if not np.ptp(values) > 0.0:
                continue
            if of_season:
                moved = np.log(values) if values.min() > 0.0 else values
                lake, label = (str(seasons[one].values[season]) for one in ("lake", "label"))
                priors = {
                    key: density[:, min(season, density.shape[1] - 1)]
                    for key, density in by_season.items()
                }
            else:
                moved, lake, label = natural_scale(spec.priors[str(name)], values), "", ""
                priors = everywhere
            share, error, most = _share_and_most(moved, priors)
            rows.append((lake, label, str(name), share, error, most, rests_on(share)))
    return pd.DataFrame(rows, columns=list(COLUMNS))


def rests_on(share: float) -> str:
    """Return what determines a quantity, by the share of its variance due to the priors."""
    if share < SOME:
        return "data"
    return "data and prior" if share < MOST else "prior"


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

    if not np.ptp(values) > 0.0:
        return 0.0, 0.0
    terms = _terms(values, log_prior)
    effective = float(array_stats.ess(terms, method="mean"))
    return float(np.clip(terms.mean(), 0.0, 1.0)), float(terms.std() / np.sqrt(effective))


def _share_and_most(values: FloatArray, priors: dict[str, FloatArray]) -> tuple[float, float, str]:
    """Return the share of a quantity due to priors, its error, and the largest contributor."""
    shaped = {name: density.reshape(values.shape) for name, density in priors.items()}
    most = max(shaped, key=lambda name: float(_terms(values, shaped[name]).mean()))
    return *prior_share(values, np.sum(list(shaped.values()), axis=0)), most


def _terms(values: FloatArray, log_prior: FloatArray) -> FloatArray:
    """Return what the mean of, over the draws, is the share."""
    squares = (values - values.mean()) ** 2
    variance = squares.mean()
    return -(squares - variance) * (log_prior - log_prior.mean()) / variance
