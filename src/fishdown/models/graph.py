"""A specification and a campaign's arrays made into a PyMC model.

`build` reads as the outline of the model; each step is one function. The densities are the
functions of `ledger`, `catch` and `weights`, the same that the tests hold against SciPy, fed with
PyTensor's ln Γ.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pymc as pm
import pytensor.tensor as pt

from fishdown.models.catch import beta_shape, chance_log_density, schooling_log_density
from fishdown.models.ledger import counting_log_density
from fishdown.models.temperature import cooling_effect
from fishdown.models.weights import weights_log_density

if TYPE_CHECKING:
    from fishdown.models.data import ModelData
    from fishdown.models.priors import Prior
    from fishdown.models.spec import ModelSpec

# Whole numbers of fish are counted on a continuous scale: the number n stands for the stretch
# from n − ½ to n + ½, so the support opens half a fish below the smallest allowed number.
HALF_FISH = 0.5


def build(spec: ModelSpec, data: ModelData, coords: dict[str, Any]) -> pm.Model:
    """Assemble the graph.

    Parameters
    ----------
    spec : ModelSpec
        Already fitted to the campaign by `fitting_spec`.
    data : ModelData
        From `model_data`.
    coords : dict
        Labels of the dimensions ``lake`` and ``season``.

    Returns
    -------
    pymc.Model
        Free variables are named as in `fishdown.models.parameters`, plus ``abundance`` (fish
        before the first pull of each season).
    """
    with pm.Model(coords=coords) as model:
        abundance = _abundance(spec, data)
        _counting(data, abundance)
        if spec.part("evidence") != "marks":
            hazard = pt.exp(_log_hazard(spec, data, abundance))
            _catches(spec, data, abundance, hazard)
        if spec.part("weights") == "measured":
            _weights(spec, data)
    return model


def _abundance(spec: ModelSpec, data: ModelData) -> Any:
    median, log_sd = _lognormal(spec.priors["density"])
    lower = data.bound - HALF_FISH
    centre = np.log(median * data.season_area)
    # A fixed prior may be truncated and renormalised: that changes no posterior.
    return pm.Truncated(
        "abundance",
        pm.LogNormal.dist(mu=centre, sigma=log_sd),
        lower=lower,
        upper=None,
        dims="season",
        initval=np.maximum(2.0 * lower + 10.0, np.exp(centre)),
    )


def _counting(data: ModelData, abundance: Any) -> None:
    terms = counting_log_density(
        abundance[data.term_season], data.term_offset, data.term_weight, gammaln=pt.gammaln
    )
    pm.Potential("counting", terms.sum() + data.constant)


def _log_hazard(spec: ModelSpec, data: ModelData, abundance: Any) -> Any:
    """Return the logarithm of the hazard of every pull."""
    lake = data.lake_of_season[data.pull_season]
    cooling: Any = np.zeros(len(lake))
    if spec.part("temperature") == "log_linear":
        effect = _log_temperature_effect(spec)[lake]
        cooling = cooling_effect(_temperature(data), effect, spec.reference_temperature)
    if spec.part("catchability") == "per_lake":
        share = _from_prior("catchability", spec.priors["catchability"], dims="lake")
        log_hazard = pt.log(-pt.log1p(-share))
    else:
        log_hazard = _log_cleared(spec, data, abundance, cooling) - np.log(data.area)
    return log_hazard[lake] + cooling


def _log_cleared(spec: ModelSpec, data: ModelData, abundance: Any, cooling: Any) -> Any:
    """Return the logarithm of the area that one pull clears in each lake.

    The sampler walks over a lake's typical catch instead, the one thing that the catches tell at
    once: abundance and catchability trade off along a ridge, and this turns the ridge along an
    axis. Given abundance, the typical catch's prior is that of the cleared area, moved.
    """
    prior = spec.priors["cleared_ha"]
    median, log_sd = prior.numbers
    fish, cold = _typical_lake(data, abundance, cooling)
    to_catch = pt.log(fish) + cold - np.log(data.area)
    if spec.part("pooling") == "none":
        centre: Any = np.log(median)
        spread: Any = log_sd
    else:
        exponent = _from_prior("area_exponent", spec.priors["area_exponent"])
        spread = _from_prior("lake_spread", spec.priors["lake_spread"])
        log_area = np.log(data.area)
        # A pull clears the same area everywhere when the exponent is 1.
        centre = pt.log(_from_prior("cleared_ha_typical", prior))
        centre = centre + (1.0 - exponent) * (log_area - log_area.mean())
    # Centred: each lake's own pulls say far more about it than the other lakes do.
    typical_catch = pm.LogNormal("typical_catch", centre + to_catch, spread, dims="lake")
    log_cleared = pt.log(typical_catch) - to_catch
    pm.Deterministic("cleared_ha", pt.exp(log_cleared), dims="lake")
    return log_cleared


def _typical_lake(data: ModelData, abundance: Any, cooling: Any) -> tuple[Any, Any]:
    """Return fish in each lake halfway through its pulls, and how much their cold matters."""
    lake = data.lake_of_season[data.pull_season]
    pulls = np.bincount(lake, minlength=len(data.area))
    before = abundance[data.pull_season] - data.gone_before
    # A lake without pulls that speak keeps its prior: one fish, no cold.
    share = (np.arange(len(data.area))[:, None] == lake) / np.maximum(pulls, 1)[:, None]
    return pt.dot(share, before) + (pulls == 0), pt.dot(share, cooling)


def _log_temperature_effect(spec: ModelSpec) -> Any:
    prior = spec.priors["temperature_effect"]
    if spec.part("pooling") == "none":
        return pt.log(_from_prior("temperature_effect", prior, dims="lake"))
    typical = _log_normal_log("temperature_effect_typical", prior)
    spread = _from_prior("temperature_spread", spec.priors["temperature_spread"])
    # Not centred: a season's range of temperatures says little about its own slope.
    step = pm.Normal("temperature_effect_step", dims="lake")
    log_effect = typical + spread * step
    pm.Deterministic("temperature_effect", pt.exp(log_effect), dims="lake")
    return log_effect


def _temperature(data: ModelData) -> Any:
    guess = data.temperature
    if not len(guess.missing):
        return guess.value
    step = pm.Normal("temperature_step", shape=len(guess.missing))
    filled = guess.value[guess.missing] + guess.sd * step
    return pt.set_subtensor(pt.as_tensor(guess.value)[guess.missing], filled)


def _catches(spec: ModelSpec, data: ModelData, abundance: Any, hazard: Any) -> None:
    # In the half fish below the bound a pull would take more than there is, where the density
    # of a school has a pole.
    before = pt.maximum(abundance[data.pull_season] - data.gone_before, data.caught)
    if spec.part("catch") == "chance":
        terms = chance_log_density(data.caught, before, hazard, log1mexp=pt.log1mexp)
    else:
        schooling = _from_prior("schooling", spec.priors["schooling"])
        a, b = beta_shape(hazard, schooling, exp=pt.exp)
        terms = schooling_log_density(data.caught, before, a, b, gammaln=pt.gammaln)
    pm.Potential("catches", terms.sum())


def _weights(spec: ModelSpec, data: ModelData) -> None:
    prior = spec.priors["mean_weight"]
    if spec.part("pooling") == "none":
        by_season = _from_prior("mean_weight", prior, dims="season")
    else:
        typical = _log_normal_log("mean_weight_typical", prior)
        spread = _from_prior("weight_spread", spec.priors["weight_spread"])
        log_mean = pm.Normal("log_mean_weight", typical, spread, dims="season")
        by_season = pm.Deterministic("mean_weight", pt.exp(log_mean), dims="season")
    variation = _from_prior("weight_variation", spec.priors["weight_variation"])
    terms = weights_log_density(
        data.weighed,
        data.weight_total,
        data.weight_total_log,
        by_season,
        variation,
        gammaln=pt.gammaln,
        log=pt.log,
    )
    pm.Potential("weights", terms.sum())


def _from_prior(name: str, prior: Prior, dims: str | None = None) -> Any:
    first, second = prior.numbers
    match prior.family:
        case "lognormal":
            return pm.LogNormal(name, mu=np.log(first), sigma=second, dims=dims)
        case "normal":
            return pm.Normal(name, mu=first, sigma=second, dims=dims)
        case _:
            return pm.Beta(name, alpha=first, beta=second, dims=dims)


def _log_normal_log(name: str, prior: Prior) -> Any:
    """Return the logarithm of a log-normal quantity, the quantity itself under `name`."""
    return pt.log(_from_prior(name, prior))


def _lognormal(prior: Prior) -> tuple[float, float]:
    median, log_sd = prior.numbers
    return median, log_sd
