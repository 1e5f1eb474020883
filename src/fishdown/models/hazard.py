"""The hazard of every pull, as a graph: catchability and all that changes it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pymc as pm
import pytensor.tensor as pt
from scipy.special import betaln

from fishdown.models.nets import bait_effect, rest_effect
from fishdown.models.smooth import SMOOTH_BASIS, SMOOTH_RANGE, SMOOTH_WALLS
from fishdown.models.temperature import cooling_effect, threshold_effect

if TYPE_CHECKING:
    from fishdown.models.data import ModelData
    from fishdown.models.priors import Prior
    from fishdown.models.spec import ModelSpec

    type Fed = dict[str, Any]


def log_hazard(spec: ModelSpec, data: ModelData, fed: Fed, reachable: Any) -> Any:
    """Return the logarithm of the hazard of every pull, shape (pull,)."""
    effects = _temperature(spec, data, fed) + _nets(spec, data, fed)
    # The sampler walks over a lake's typical catch, the one thing that the catches tell at once:
    # abundance and catchability trade off along a ridge, and this turns the ridge along an axis.
    # Given abundance, the typical catch's prior is that of catchability, moved.
    typical_fish = _log_typical_fish(fed, reachable, effects)
    if spec.part("catchability") == "per_lake":
        base = _log_hazard_of_share(spec, data, typical_fish)
    else:
        base = _log_cleared(spec, fed, typical_fish) - fed["log_area"]
    return base[fed["pull_lake"]] + effects


def _log_hazard_of_share(spec: ModelSpec, data: ModelData, typical_fish: Any) -> Any:
    """Return the logarithm of each lake's hazard when the prior is on catchability itself."""
    lakes = np.bincount(data.lake_of_season[data.pull_season], data.caught, len(data.area))
    pulls = np.bincount(data.lake_of_season[data.pull_season], minlength=len(data.area))
    start = np.log(lakes / np.maximum(pulls, 1) + 1.0)
    log_hazard = pm.Flat("log_typical_catch", dims="lake", initval=start) - typical_fish
    hazard = pt.exp(log_hazard)
    share = pm.Deterministic("catchability", -pt.expm1(-hazard), dims="lake")
    a, b = spec.priors["catchability"].numbers
    # Beta density of q = 1 − exp(−h), times dq/d(ln h) = h exp(−h); ln(1 − q) is −h.
    log_density = (a - 1.0) * pt.log(share) - b * hazard + log_hazard - betaln(a, b)
    pm.Potential("catchability_prior", log_density.sum())
    return log_hazard


def _log_cleared(spec: ModelSpec, fed: Fed, typical_fish: Any) -> Any:
    """Return the logarithm of the area that one pull clears in each lake."""
    prior = spec.priors["cleared_ha"]
    median, log_sd = prior.numbers
    log_area = fed["log_area"]
    to_catch = typical_fish - log_area
    if spec.part("pooling") == "none":
        centre: Any = np.log(median)
        spread: Any = log_sd
    else:
        exponent = from_prior("area_exponent", spec.priors["area_exponent"])
        spread = from_prior("lake_spread", spec.priors["lake_spread"])
        # A pull clears the same area everywhere when the exponent is 1.
        centre = pt.log(from_prior("cleared_ha_typical", prior))
        centre = centre + (1.0 - exponent) * (log_area - log_area.mean())
    # Centred: each lake's own pulls say far more about it than the other lakes do.
    typical_catch = pm.LogNormal("typical_catch", centre + to_catch, spread, dims="lake")
    log_cleared = pt.log(typical_catch) - to_catch
    pm.Deterministic("cleared_ha", pt.exp(log_cleared), dims="lake")
    return log_cleared


def _log_typical_fish(fed: Fed, reachable: Any, effects: Any) -> Any:
    """Return the logarithm of the fish in each lake over its pulls, less what hides them."""
    share = fed["pull_share"]
    before = reachable[fed["pull_season"]] - fed["gone_before"]
    # A lake without pulls that speak keeps its prior: one fish, no effects.
    idle = 1.0 - share.sum(axis=1)
    return pt.log((share * before).sum(axis=1) + idle) + (share * effects).sum(axis=1)


def _temperature(spec: ModelSpec, data: ModelData, fed: Fed) -> Any:
    """Return what temperature adds to the log-hazard of every pull."""
    shape = spec.part("temperature")
    if shape == "none":
        return pt.zeros_like(fed["caught"])
    lake = fed["pull_lake"]
    reference = spec.reference_temperature
    temperature = _temperature_at_pulls(data, fed)
    if shape == "threshold_curve":
        threshold = _by_lake(spec, "threshold_temperature", "threshold_spread")
        width = from_prior("threshold_width", spec.priors["threshold_width"])
        cold = threshold_effect(reference - 10.0, threshold, width, reference, log1pexp=pt.softplus)
        pm.Deterministic("temperature_effect", pt.exp(cold), dims="lake")
        return threshold_effect(
            temperature, threshold[lake], width, reference, log1pexp=pt.softplus
        )
    if shape == "log_linear":
        effect = _log_factor_by_lake(spec, "temperature_effect")
        return cooling_effect(temperature, effect[lake], reference)
    slope = _log_factor_by_lake(spec, "temperature_effect_linear")
    curve = _smooth_curve(spec)
    at_reference = curve(pt.as_tensor([reference]))
    cold = curve(pt.as_tensor([reference - 10.0])) - at_reference
    pm.Deterministic("temperature_effect", pt.exp(slope + cold), dims="lake")
    return cooling_effect(temperature, slope[lake], reference) + curve(temperature) - at_reference


def _smooth_curve(spec: ModelSpec) -> Any:
    """Return a function of temperature: a Gaussian process on a Hilbert-space basis, all lakes'."""
    low, high = SMOOTH_RANGE
    middle, half = (low + high) / 2.0, (high - low) / 2.0
    amplitude = from_prior("smooth_amplitude", spec.priors["smooth_amplitude"])
    scale = from_prior("smooth_scale", spec.priors["smooth_scale"])
    kernel = amplitude**2 * pm.gp.cov.ExpQuad(1, ls=scale / half)
    process = pm.gp.HSGP(m=[SMOOTH_BASIS], L=[SMOOTH_WALLS], cov_func=kernel)
    # The first call fixes the centre of the basis.
    process.prior_linearized(np.array([[-1.0], [1.0]]))
    step = pm.Normal("smooth_step", shape=SMOOTH_BASIS)

    def curve(temperature: Any) -> Any:
        basis, root_density = process.prior_linearized(((temperature - middle) / half)[:, None])
        return basis @ (step * root_density)

    return curve


def _temperature_at_pulls(data: ModelData, fed: Fed) -> Any:
    count = len(data.temperature.missing)
    if not count:
        return fed["temperature"]
    step = pm.Normal("temperature_step", shape=count)
    guessed = fed["temperature"][fed["missing"]] + fed["missing_sd"] * step
    return pt.set_subtensor(fed["temperature"][fed["missing"]], guessed)


def _nets(spec: ModelSpec, data: ModelData, fed: Fed) -> Any:
    """Return what net, season, mesh, earlier pulls and bait add to the log-hazard of every pull."""
    effect: Any = pt.zeros_like(fed["caught"])
    if spec.part("nets") == "differ":
        spread = from_prior("net_spread", spec.priors["net_spread"])
        step = pm.Normal("net_step", shape=len(data.nets))
        effect = effect + (spread * step)[fed["net"]]
    if spec.part("seasons") == "differ":
        spread = from_prior("season_spread", spec.priors["season_spread"])
        step = pm.Normal("season_step", dims="season")
        effect = effect + (spread * step)[fed["pull_season"]]
    if spec.part("mesh") == "log_linear":
        factor = from_prior("mesh_effect", spec.priors["mesh_effect"])
        effect = effect + pt.log(factor) * fed["mesh_doublings"]
    if spec.part("first_pulls") == "best":
        factor = from_prior("later_pulls", spec.priors["later_pulls"])
        effect = effect + pt.log(factor) * fed["later"]
    if spec.part("rest") == "recovering":
        loss = from_prior("rest_loss", spec.priors["rest_loss"])
        recovery = from_prior("rest_recovery", spec.priors["rest_recovery"])
        effect = effect + rest_effect(fed["rest"], loss, recovery, log=pt.log, exp=pt.exp)
    if spec.part("bait") == "building":
        start = from_prior("bait_start", spec.priors["bait_start"])
        build_up = from_prior("bait_build_up", spec.priors["bait_build_up"])
        effect = effect + bait_effect(fed["bait"], start, build_up, log=pt.log, exp=pt.exp)
    return effect


def _log_factor_by_lake(spec: ModelSpec, name: str) -> Any:
    """Return the logarithm of what cold leaves in each lake, partially pooled if asked to."""
    prior = spec.priors["temperature_effect"]
    if spec.part("pooling") == "none":
        return pt.log(from_prior(name, prior, dims="lake"))
    typical = pt.log(from_prior(f"{name}_typical", prior))
    spread = from_prior("temperature_spread", spec.priors["temperature_spread"])
    # Not centred: a season's range of temperatures says little about its own slope.
    step = pm.Normal(f"{name}_step", dims="lake")
    log_effect = typical + spread * step
    pm.Deterministic(name, pt.exp(log_effect), dims="lake")
    return log_effect


def _by_lake(spec: ModelSpec, name: str, spread: str) -> Any:
    """Return a parameter of each lake, partially pooled on its own scale if asked to."""
    prior = spec.priors[name]
    if spec.part("pooling") == "none":
        return from_prior(name, prior, dims="lake")
    typical = from_prior(f"{name}_typical", prior)
    step = pm.Normal(f"{name}_step", dims="lake")
    by_lake = typical + from_prior(spread, spec.priors[spread]) * step
    return pm.Deterministic(name, by_lake, dims="lake")


def from_prior(name: str, prior: Prior, dims: str | None = None) -> Any:
    """Add a free variable with a prior of a model file to the graph."""
    # As arrays: plain numbers may be narrowed to single precision, and ln Γ of them with it.
    first, second = (np.asarray(number) for number in prior.numbers)
    match prior.family:
        case "lognormal":
            return pm.LogNormal(name, mu=np.log(first), sigma=second, dims=dims)
        case "normal":
            return pm.Normal(name, mu=first, sigma=second, dims=dims)
        case "logitnormal":
            middle = np.log(first) - np.log1p(-first)
            # PyMC would have the sampler walk over the share itself.
            free = pm.distributions.transforms.logodds
            return pm.LogitNormal(name, mu=middle, sigma=second, dims=dims, default_transform=free)
        case _:
            return pm.Beta(name, alpha=first, beta=second, dims=dims)
