"""Mean weights of the seasons in the graph: levels of lakes and years, weights, lengths."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pymc as pm
import pytensor.tensor as pt

from fishdown.models.coordinates import AroundCentre
from fishdown.models.part import ByLake
from fishdown.models.parts.weights.densities import (
    alike_log_factor,
    lengths_log_density,
    log_weight_of_condition,
    sum_of_powers,
    variation_with_scatter,
    weight_log_density_at_length,
    weights_log_density,
)
from fishdown.models.parts.weights.left import log_left, log_weight_change
from fishdown.models.variables import from_prior, in_each_lake

if TYPE_CHECKING:
    from fishdown.models.data import ModelData
    from fishdown.models.spec import ModelSpec


def add_weights(spec: ModelSpec, nodes: ModelData[Any], abundance: Any) -> None:
    """Add the mean weight of every season and the density of the fish measured."""
    data = nodes.weights
    season = data.weighing_season
    lake = nodes.lake_of_season[season]
    place = None
    if spec.part("weighed") == "at_random":
        mean = _mean_weight(spec, nodes)[season]
        variation: Any = from_prior("weight_variation", spec.priors["weight_variation"])
        spread = None
    else:
        away = _log_away(spec, nodes, abundance)
        mean = _mean_weight(spec, nodes, away)[season] * pt.exp(away)
        by_lake = ByLake("weight_variation_spread")
        variation = in_each_lake(spec, "weight_variation", by_lake, "weight_variation")
        place = lake
        spread = from_prior("weight_pull_spread", spec.priors["weight_pull_spread"])
    variation_of_weights = variation
    if spec.part("lengths") != "none":
        scatter, exponent, log_expected = _relation(spec, nodes)
        variation_of_weights = variation_with_scatter(variation, scatter, xp=pt)
        terms = lengths_log_density(
            data.lengths,
            data.length_total_log,
            data.length_powers,
            log_expected[lake],
            exponent,
            mean,
            variation,
            lake=place,
            xp=pt,
        )
        pm.Potential("lengths_of_fish", terms.sum())
    terms = weights_log_density(
        data.weighed,
        data.weight_total,
        data.weight_total_log,
        mean,
        variation_of_weights,
        lake=place,
        xp=pt,
    )
    pm.Potential("weights", terms.sum())
    if spread is None:
        return
    shape = (1.0 / variation_of_weights**2)[lake]
    shapes, load = shape * data.weighed, shape * data.weight_total / mean
    if spec.part("lengths") != "none":
        at_length = pt.exp(log_expected[lake]) * sum_of_powers(data.length_powers, exponent)
        shape = (1.0 / variation**2)[lake]
        shapes, load = shapes + shape * data.lengths, load + shape * at_length / mean
    pm.Potential("fish_alike", alike_log_factor(shapes, load, spread, xp=pt).sum())


def _log_away(spec: ModelSpec, nodes: ModelData[Any], abundance: Any) -> Any:
    """Return ln of the mean weight of each weighing, relative to its season's before netting."""
    data = nodes.weights
    trend = from_prior("weight_trend", spec.priors["weight_trend"])
    by_nets = from_prior("net_selectivity", spec.priors["net_selectivity"])
    left = log_left(abundance[data.weighing_season], data.weighing_gone, xp=pt)
    away = log_weight_change(left, data.weighing_time, by_nets, trend)
    away = away + data.weighing_netted * pt.log(by_nets)
    if spec.part("weighed") == "by_gear":
        name = "electrofishing_selectivity"
        electric = from_prior(name, spec.priors[name])
        away = away + (1.0 - data.weighing_netted) * pt.log(electric)
    return away


def _mean_weight(spec: ModelSpec, nodes: ModelData[Any], away: Any = None) -> Any:
    """Return the mean weight of every season: a typical one, its lakes, their years.

    `away` is ln of the mean weight of each weighing relative to it; its mean over the measured fish
    of a season moves the sampler coordinate to what these inform.
    """
    prior = spec.priors["mean_weight"]
    pooled = spec.part("pooling") == "lakes"
    by_year = spec.part("sizes") == "by_lake_and_year"
    if away is None and not (pooled or by_year):
        return from_prior("mean_weight", prior, dims="season")
    lake = nodes.lake_of_season
    spread: Any
    if pooled:
        centre = pt.log(from_prior("mean_weight_typical", prior))
        spread = from_prior("weight_spread", spec.priors["weight_spread"])
        if by_year:
            known = nodes.weights.size_known_lake
            centre = _around("log_weight_of_lake", centre, spread, known, "lake")[lake]
    elif by_year:
        centre = pt.log(from_prior("mean_weight_typical", prior, dims="lake"))[lake]
    else:
        median, spread = (np.asarray(number) for number in prior.numbers)
        centre = pt.as_tensor(np.log(median))
    if by_year:
        spread = from_prior("weight_year_spread", spec.priors["weight_year_spread"])
    known = nodes.weights.size_known_season
    if away is None:
        log_mean = _around("log_mean_weight", centre, spread, known, "season")
    else:
        moved = _mean_of_fish(away, nodes)
        log_mean = _around("log_measured_weight", centre + moved, spread, known, "season") - moved
    return pm.Deterministic("mean_weight", pt.exp(log_mean), dims="season")


def _mean_of_fish(values: Any, nodes: ModelData[Any]) -> Any:
    """Return the mean over the measured fish of each season; 0 for a season without any."""
    data = nodes.weights
    fish = data.weighed + data.lengths
    nought = pt.zeros_like(nodes.lake_of_season, dtype="float64")[data.weighing_season]
    total, count = (pt.inc_subtensor(nought, added) for added in (fish * values, fish))
    return total / pt.maximum(count, 1.0)


def _relation(spec: ModelSpec, nodes: ModelData[Any]) -> tuple[Any, Any, Any]:
    """Add the weight–length relationship and the fish that have both.

    Returns
    -------
    scatter, exponent : tensors
    log_expected : tensor, shape (lake,)
        Logarithm of the mean weight of fish of the centre's length.
    """
    prior = spec.priors["condition"]
    if spec.part("pooling") == "none":
        log_condition = pt.log(from_prior("condition", prior, dims="lake"))
    else:
        typical = pt.log(from_prior("condition_typical", prior))
        spread = from_prior("condition_spread", spec.priors["condition_spread"])
        known = nodes.weights.relation_known_lake
        log_condition = _around("log_condition", typical, spread, known, "lake")
        pm.Deterministic("condition", pt.exp(log_condition), dims="lake")
    exponent = from_prior("length_exponent", spec.priors["length_exponent"])
    scatter = from_prior("length_scatter", spec.priors["length_scatter"])
    intercept = log_weight_of_condition(log_condition, nodes.weights.centre)
    terms = weight_log_density_at_length(
        nodes.weights.pairs,
        nodes.weights.pair_log_length,
        nodes.weights.pair_log_weight,
        nodes.weights.pair_squares,
        intercept,
        exponent,
        scatter,
        xp=pt,
    )
    pm.Potential("weights_at_length", terms.sum())
    return scatter, exponent, intercept + 0.5 * scatter**2


def _around(name: str, centre: Any, spread: Any, known: Any, dims: str) -> Any:
    """Add normal values about a centre, centred where there are data, else non-centred."""
    middle, width = pt.where(known, centre, 0.0), pt.where(known, spread, 1.0)
    walked = pm.Normal(name, mu=middle, sigma=width, dims=dims)
    return AroundCentre(centre, spread, known, pt).reached(walked)
