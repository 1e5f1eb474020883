"""The log-density of every pull given all that came before it, draw by draw, in plain numbers.

The graph adds up the counting terms of a season's pulls, in which factorials cancel. Checks that
leave pulls out need them one by one: ln p(C_i, R_i | N₀, θ, pulls before i), the catch
(beta-binomial or binomial) and the marked fish in it (hypergeometric). Their sum over all pulls is
the graph's.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import xarray as xr
from scipy.special import gammaln

from fishdown.errors import FitError
from fishdown.models.data import model_data
from fishdown.models.parts.catch import beta_shape, chance_log_density, schooling_log_density
from fishdown.models.parts.marks import all_marks_count
from fishdown.posterior.pull_hazard import pull_hazard, stacked

if TYPE_CHECKING:
    from fishdown.campaign import Campaign
    from fishdown.models.data import ModelData
    from fishdown.models.spec import ModelSpec
    from fishdown.typing import FloatArray, Numbers


def pull_log_densities(posterior: xr.Dataset, campaign: Campaign, spec: ModelSpec) -> xr.Dataset:
    """Split the log-likelihood of catches and recaptures into that of single pulls.

    Parameters
    ----------
    posterior : xarray.Dataset
        Draws of the model's variables, dimensions (chain, draw, …): group ``posterior`` of a fit.
    campaign : Campaign
        That was fitted.
    spec : ModelSpec
        The model as it was fitted.

    Returns
    -------
    xarray.Dataset
        ``catch`` and ``recaptures``, dimensions (chain, draw, pull), all pulls of the campaign in
        its order, natural logarithms. 0 where one of the two says nothing: the catch of a spoiled
        pull, the marks where the catch was not examined.

    Raises
    ------
    FitError
        If the model counts batches apart, or has recaptures that are not at random.
    """
    if spec.part("batches") == "apart" or spec.part("recaptures") != "random":
        raise FitError(
            f"model {spec.name}: single pulls have a likelihood only where all marks of a season "
            'are counted together and at random; use batches = "together" and recaptures = "random"'
        )
    data = model_data(campaign, spec)
    index = campaign.pulls["season_index"].values
    vulnerable_fish = _vulnerable_fish(posterior, spec)[:, index]
    before = vulnerable_fish - campaign.pulls["gone_before"].values
    marks = _marks_at_large(posterior, campaign, spec)
    found = {
        "catch": _catches(posterior, campaign, spec, data, before),
        "recaptures": _recaptures(campaign, spec, before, marks),
    }
    size = posterior.sizes["chain"], posterior.sizes["draw"]
    attributes = {"units": "1", "long_name": "log-density given all pulls before"}
    return xr.Dataset(
        {
            name: (("chain", "draw", "pull"), values.reshape(*size, -1), attributes)
            for name, values in found.items()
        }
    )


def speaking_pulls(campaign: Campaign, spec: ModelSpec) -> np.ndarray:
    """Return which pulls are informative in a model, shape (pull,)."""
    speaks: np.ndarray = _catch_speaks(campaign, spec) | _marks_speak(campaign, spec)
    return speaks


def _catch_speaks(campaign: Campaign, spec: ModelSpec) -> np.ndarray:
    spoiled = campaign.pulls["spoiled"].values
    return ~spoiled if spec.part("evidence") != "marks" else np.zeros_like(spoiled)


def _marks_speak(campaign: Campaign, spec: ModelSpec) -> np.ndarray:
    # Where no mark is at large there is none to see or to miss.
    pulls = campaign.pulls
    examined = ~np.isnan(pulls["recaptured"].values)
    examined &= (pulls["marks_at_large"].values > 0) | (pulls["recaptured"].values > 0)
    return examined if spec.part("evidence") != "depletion" else np.zeros_like(examined)


def _vulnerable_fish(posterior: xr.Dataset, spec: ModelSpec) -> FloatArray:
    """Return the vulnerable fish before each season's first pull, shape (draw, season)."""
    abundance = stacked(posterior["abundance"])
    if spec.part("vulnerable") == "all":
        return abundance
    return abundance * stacked(posterior["vulnerable"])[:, None]


def _marks_at_large(posterior: xr.Dataset, campaign: Campaign, spec: ModelSpec) -> FloatArray:
    """Return the marks that count before each pull, shape (draw or 1, pull)."""
    pulls = campaign.pulls
    index = pulls["season_index"].values
    # Of earlier years' marks the draws say how many have lasted; the rest are the season's own.
    own: FloatArray = (
        pulls["marks_at_large"].values - campaign.seasons["carried_most"].values[index]
    )[None]
    if "carried_marks" in posterior:
        own = own + stacked(posterior["carried_marks"])[:, index]
        return own
    if all_marks_count(spec.parts) or "share_of_marks" not in posterior:
        return own
    removed_before = np.zeros(len(index))
    for season in np.unique(index):
        mine = index == season
        removed = pulls["marks_removed"].values[mine]
        removed_before[mine] = np.cumsum(removed) - removed
    # Of all marks released the share counts; those seen again are known.
    share = stacked(posterior["share_of_marks"])[:, index]
    counting: FloatArray = share * (own + removed_before) - removed_before
    return counting


def _catches(
    posterior: xr.Dataset,
    campaign: Campaign,
    spec: ModelSpec,
    data: ModelData[Numbers],
    before: FloatArray,
) -> FloatArray:
    found = np.zeros_like(before)
    speaks = _catch_speaks(campaign, spec)
    if not speaks.any():
        return found
    caught, fish = data.catches.caught, before[:, speaks]
    # Not the graph's own: its typical catch belongs to the pulls that were fitted, and pulls may
    # have come since.
    hazard = pull_hazard(posterior, spec, data.area, data.catches.lake, data.effects)
    # As in the graph: in the half fish below the bound a pull would take more than there is.
    enough = np.maximum(fish, caught)
    if spec.part("catch") == "chance":
        density = chance_log_density(caught, enough, hazard)
    else:
        a, b = beta_shape(hazard, stacked(posterior["schooling"])[:, None])
        density = schooling_log_density(caught, enough, a, b)
    found[:, speaks] = density + _log_choose(fish, caught)
    return found


def _recaptures(
    campaign: Campaign, spec: ModelSpec, before: FloatArray, marks: FloatArray
) -> FloatArray:
    found = np.zeros_like(before)
    speaks = _marks_speak(campaign, spec)
    caught = campaign.pulls["caught"].values[speaks]
    seen = campaign.pulls["recaptured"].values[speaks]
    fish, marked = before[:, speaks], marks[:, speaks]
    # After catches not examined for marks, marks at large are an estimate, and may be a fraction of
    # a fish below what is seen later.
    left = np.maximum(marked - seen, 0.0)
    found[:, speaks] = (
        gammaln(np.maximum(marked, 0.0) + 1.0)
        - gammaln(left + 1.0)
        - gammaln(seen + 1.0)
        + _log_choose(fish - marked, caught - seen)
        - _log_choose(fish, caught)
    )
    return found


def _log_choose(from_: FloatArray, taken: FloatArray) -> FloatArray:
    chosen: FloatArray = gammaln(from_ + 1.0) - gammaln(from_ - taken + 1.0) - gammaln(taken + 1.0)
    return chosen
