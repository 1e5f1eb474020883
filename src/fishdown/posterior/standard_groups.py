"""The groups that ArviZ knows by name, beside the posterior: records, predictions, priors.

The graph states the densities of records as potentials, so that the sampler leaves none of this
behind. It is made here from the draws, pull by pull, each given the records before it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import xarray as xr

from fishdown.labels import pull_labels
from fishdown.models.data import model_data
from fishdown.models.inputs import labelled_arrays_of
from fishdown.models.part import with_marks
from fishdown.models.parts.marks.release_groups import examined_pulls
from fishdown.posterior.at_draws import drawn_lakes, thinned
from fishdown.posterior.log_priors import log_priors
from fishdown.posterior.pointwise import informative_pulls, pull_log_densities
from fishdown.posterior.prior_draws import prior_draws, prior_quantities
from fishdown.posterior.replicates import catches_given_past, recaptures_given_catches
from fishdown.posterior.variable_labels import labelled

if TYPE_CHECKING:
    from fishdown.campaign import Campaign
    from fishdown.models.data import ModelData
    from fishdown.models.spec import ModelSpec
    from fishdown.typing import BoolArray, IntArray, Numbers

# Catches and recaptures take a byte or two each on disk, not eight.
_PACKED = {"zlib": True, "complevel": 1, "shuffle": True}
_CAUGHT = {"units": "count", "long_name": "target fish in the pull"}
_RECAPTURED = {"units": "count", "long_name": "marked fish in the pull"}
_GIVEN_PAST = "given the records before the pull"


def standard_groups(
    posterior: xr.Dataset, campaign: Campaign, spec: ModelSpec, *, seed: int
) -> dict[str, xr.Dataset]:
    """Make the groups that ArviZ knows by name.

    Parameters
    ----------
    posterior : xarray.Dataset
        Draws of the model's variables, dimensions (chain, draw, …).
    campaign : Campaign
        That was fitted.

    Returns
    -------
    dict of str to xarray.Dataset
        ``observed_data``: ``caught`` (pull) and ``recaptured`` (examined), fish; what the model
        does not use is left out. ``posterior_predictive``: the same, drawn given the records before
        each pull. ``log_likelihood``: ``catch_and_recaptures`` (pull), of each informative pull
        given all before it. ``log_prior``: of each parameter. ``constant_data``: what the graph was
        fed with. ``prior`` and ``prior_quantities``: draws from the priors.
    """
    data = model_data(campaign, spec)
    prior = prior_draws(campaign, spec, seed=seed)
    return {
        "observed_data": _observed(campaign, spec, data),
        "posterior_predictive": _predicted(posterior, campaign, spec, seed),
        "log_likelihood": _log_likelihood(posterior, campaign, spec),
        "log_prior": _log_prior(posterior, spec, data),
        "constant_data": _constant(campaign, spec, data),
        "prior": labelled(prior),
        "prior_quantities": prior_quantities(prior, campaign, spec),
    }


def _observed(campaign: Campaign, spec: ModelSpec, data: ModelData[Numbers]) -> xr.Dataset:
    coords = _coords(campaign, spec)
    records = {
        "caught": ("pull", data.catches.caught, _CAUGHT),
        "recaptured": ("examined", data.counts.examined.recaptured, _RECAPTURED),
    }
    return xr.Dataset(
        {
            name: (dimension, values.astype(np.int64), attributes)
            for name, (dimension, values, attributes) in records.items()
            if dimension in coords
        },
        coords=_labels(campaign, coords),
    )


def _predicted(posterior: xr.Dataset, campaign: Campaign, spec: ModelSpec, seed: int) -> xr.Dataset:
    lakes = drawn_lakes(posterior, campaign, spec)
    rng = np.random.default_rng(seed)
    size = posterior.sizes["chain"], posterior.sizes["draw"]
    coords = _coords(campaign, spec)
    drawn: dict[str, tuple[str, IntArray, dict[str, str]]] = {}
    if "pull" in coords:
        drawn["caught"] = "pull", catches_given_past(lakes, rng), _CAUGHT
    if "examined" in coords:
        season = lakes.data.counts.examined.season
        by_season = [recaptures_given_catches(one, lakes, rng) for one in np.unique(season)]
        drawn["recaptured"] = "examined", np.concatenate(by_season, axis=1), _RECAPTURED
    found = xr.Dataset(
        {
            name: (
                ("chain", "draw", dimension),
                values.reshape(*size, -1),
                {**attributes, "long_name": f"{attributes['long_name']}, {_GIVEN_PAST}"},
                _PACKED,
            )
            for name, (dimension, values, attributes) in drawn.items()
        },
        coords=_labels(campaign, coords),
    )
    return _with_draws_of(posterior, found)


def _log_likelihood(posterior: xr.Dataset, campaign: Campaign, spec: ModelSpec) -> xr.Dataset:
    informative = informative_pulls(campaign, spec)
    densities = pull_log_densities(posterior, campaign, spec).isel(pull=np.flatnonzero(informative))
    both = densities["catch"] + densities["recaptures"]
    both.attrs = {
        "units": "1",
        "long_name": f"log-likelihood of catch and recaptures, {_GIVEN_PAST}",
    }
    found = xr.Dataset({"catch_and_recaptures": both})
    return _with_draws_of(posterior, found).assign_coords(_labels(campaign, {"pull": informative}))


def _log_prior(posterior: xr.Dataset, spec: ModelSpec, data: ModelData[Numbers]) -> xr.Dataset:
    size = posterior.sizes["chain"], posterior.sizes["draw"]
    flat = thinned(posterior)
    found = xr.Dataset(
        {
            name: (
                ("chain", "draw"),
                values.reshape(size),
                {"units": "1", "long_name": f"log-density of the prior of {name}"},
            )
            for name, values in log_priors(flat, spec, data).items()
        }
    )
    return _with_draws_of(posterior, found)


def _constant(campaign: Campaign, spec: ModelSpec, data: ModelData[Numbers]) -> xr.Dataset:
    found = xr.Dataset(labelled_arrays_of(data))
    for name, array in found.data_vars.items():
        array.attrs["long_name"] = f"input of the model: {str(name).replace('_', ' ')}"
    labels = {**campaign.coords} | {
        name: values
        for name, (dimension, values) in _labels(campaign, _coords(campaign, spec)).items()
        if name == dimension
    }
    return found.assign_coords({name: labels[name] for name in labels if name in found.dims})


def _coords(campaign: Campaign, spec: ModelSpec) -> dict[str, BoolArray]:
    """Return which pulls of the campaign the dimensions of records count."""
    catches = ~campaign.pulls["spoiled"].values & (spec.part("evidence") != "marks")
    examined = examined_pulls(campaign) & with_marks(spec.parts)
    return {name: kept for name, kept in (("pull", catches), ("examined", examined)) if kept.any()}


def _labels(campaign: Campaign, kept: dict[str, BoolArray]) -> dict[str, tuple[str, Any]]:
    pulls = campaign.pulls
    season = campaign.seasons["season"].values[pulls["season_index"].values]
    label = np.array(pull_labels(season.tolist()), dtype=np.str_)
    return {name: (name, label[which]) for name, which in kept.items()}


def _with_draws_of(posterior: xr.Dataset, found: xr.Dataset) -> xr.Dataset:
    """Give chains and draws the numbers that they have in the posterior."""
    numbers = {name: posterior[name] for name in ("chain", "draw") if name in posterior.coords}
    return found.assign_coords(numbers)
