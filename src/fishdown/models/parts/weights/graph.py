"""Mean weights of the seasons in the graph: levels of lakes and years, weights, lengths."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pymc as pm
import pytensor.tensor as pt

from fishdown.models.coordinates import AroundCentre
from fishdown.models.parts.weights.densities import (
    lengths_log_density,
    log_weight_of_condition,
    variation_with_scatter,
    weight_log_density_at_length,
    weights_log_density,
)
from fishdown.models.variables import from_prior

if TYPE_CHECKING:
    from fishdown.models.data import ModelData
    from fishdown.models.spec import ModelSpec


def add_weights(spec: ModelSpec, nodes: ModelData[Any]) -> None:
    """Add the mean weight of every season and the density of the fish measured."""
    mean = _mean_weight(spec, nodes)
    variation = from_prior("weight_variation", spec.priors["weight_variation"])
    if spec.part("lengths") == "none":
        _weights_alone(nodes, mean, variation)
    else:
        scatter, exponent, log_expected = _relation(spec, nodes)
        _weights_alone(nodes, mean, variation_with_scatter(variation, scatter, xp=pt))
        terms = lengths_log_density(
            nodes.weights.lengths,
            nodes.weights.length_total_log,
            nodes.weights.length_powers,
            log_expected[nodes.lake_of_season],
            exponent,
            mean,
            variation,
            xp=pt,
        )
        pm.Potential("lengths_of_fish", terms.sum())


def _mean_weight(spec: ModelSpec, nodes: ModelData[Any]) -> Any:
    """Return the mean weight of every season: a typical one, its lakes, their years."""
    prior = spec.priors["mean_weight"]
    pooled = spec.part("pooling") == "lakes"
    by_year = spec.part("sizes") == "by_lake_and_year"
    if not (pooled or by_year):
        return from_prior("mean_weight", prior, dims="season")
    lake = nodes.lake_of_season
    if pooled:
        centre = pt.log(from_prior("mean_weight_typical", prior))
        spread = from_prior("weight_spread", spec.priors["weight_spread"])
        if by_year:
            known = nodes.weights.size_known_lake
            centre = _around("log_weight_of_lake", centre, spread, known, "lake")[lake]
    else:
        centre = pt.log(from_prior("mean_weight_typical", prior, dims="lake"))[lake]
    if by_year:
        spread = from_prior("weight_year_spread", spec.priors["weight_year_spread"])
    log_mean = _around("log_mean_weight", centre, spread, nodes.weights.size_known_season, "season")
    return pm.Deterministic("mean_weight", pt.exp(log_mean), dims="season")


def _weights_alone(nodes: ModelData[Any], mean: Any, variation: Any) -> None:
    terms = weights_log_density(
        nodes.weights.weighed,
        nodes.weights.weight_total,
        nodes.weights.weight_total_log,
        mean,
        variation,
        xp=pt,
    )
    pm.Potential("weights", terms.sum())


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
