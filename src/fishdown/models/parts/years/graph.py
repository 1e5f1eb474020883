"""Linked years in the graph: fish and marks at the start of a season, given the one before."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pymc as pm
import pytensor.tensor as pt

from fishdown.models.coordinates import MarksThatLasted
from fishdown.models.parts.marks.thinning import thinning_log_density
from fishdown.models.parts.years.links import expected_fish, spread_of_start
from fishdown.models.variables import from_prior

if TYPE_CHECKING:
    from fishdown.models.data import ModelData
    from fishdown.models.parts.years.links import Winters
    from fishdown.models.spec import ModelSpec
    from fishdown.typing import Numbers


def carried_marks(spec: ModelSpec, data: ModelData[Numbers], nodes: ModelData[Any]) -> Any:
    """Return the marks of earlier years at large at the start of each season, fish.

    Each mark at large at a season's end is retained with the same probability. The number retained
    is free between the fewest that later recaptures allow and all of them.
    """
    winters, fed = data.linked, nodes.linked
    carried = pt.zeros_like(nodes.counts.bound)
    survival = from_prior("survival", spec.priors["survival"])
    if not winters.carrying:
        return carried
    kept = from_prior("overwinter_retention", spec.priors["overwinter_retention"])
    chance = (survival * kept * (1.0 - _exchanged(spec, winters, fed)))[data.lake_of_season]
    count = sum(len(level) for level in winters.carrying)
    pm.modelcontext(None).add_coord("carrying_winter", length=count)
    step = pm.Flat("carried_step", dims="carrying_winter", initval=np.zeros(count))
    moved, first = [], 0
    for level in winters.carrying:
        before, after = winters.before[level], winters.after[level]
        needed = fed.marks_needed[after]
        # The marks in catches that were not examined are an estimate, which may exceed those at
        # large by a few.
        left = pt.maximum(carried[before] + fed.marks_gained[before], needed)
        walk = MarksThatLasted(needed, left, chance[after], pt)
        mine = step[first : first + len(level)]
        lasted = walk.reached(mine)
        carried = pt.set_subtensor(carried[after], lasted)
        density = thinning_log_density(lasted, left - lasted, chance[after], xp=pt)
        moved.append(density + walk.log_slope(mine))
        first += len(level)
    pm.Potential("marks_over_winters", pt.concatenate(moved).sum())
    return pm.Deterministic("carried_marks", carried, dims="season")


def link_years(
    spec: ModelSpec, data: ModelData[Numbers], nodes: ModelData[Any], abundance: Any
) -> Any:
    """Return the log-density of each season's abundance, given the season before."""
    winters, fed, lake = data.linked, nodes.linked, data.lake_of_season[data.linked.after]
    recruits = (_recruits(spec, winters, fed) * nodes.area)[lake]
    outside: Any = 0.0
    if winters.any_connected:
        density = from_prior("outside_density", spec.priors["outside_density"])
        outside = (density * nodes.area)[lake]
    expected = expected_fish(
        pt.maximum(abundance - fed.gone, 0.0)[winters.before],
        pm.modelcontext(None)["survival"],
        recruits,
        _exchanged(spec, winters, fed)[lake],
        outside,
    )
    variation = from_prior("recruit_variation", spec.priors["recruit_variation"])
    error = from_prior("process_error", spec.priors["process_error"])
    spread = spread_of_start(expected, recruits, variation, error, xp=pt)
    centre = pt.log(expected) - 0.5 * spread**2
    return pm.logp(pm.LogNormal.dist(mu=centre, sigma=spread), abundance[winters.after])


def _recruits(spec: ModelSpec, winters: Winters[Numbers], fed: Winters[Any]) -> Any:
    """Return the recruits of each lake in a year, fish/ha."""
    prior = spec.priors["recruits"]
    if spec.part("pooling") == "none":
        log_recruits = pt.log(from_prior("recruits_open", prior, dims="lake"))
    else:
        typical = pt.log(from_prior("recruits_typical", prior))
        spread = from_prior("recruit_spread", spec.priors["recruit_spread"])
        # Non-centred: most lakes have few winters of information on recruitment.
        log_recruits = typical + spread * pm.Normal("recruits_step", dims="lake")
    if winters.any_young_eaten:
        factor = from_prior("young_eaten_effect", spec.priors["young_eaten_effect"])
        log_recruits = log_recruits + pt.log(factor) * fed.young_eaten
    return pm.Deterministic("recruits", pt.exp(log_recruits), dims="lake")


def _exchanged(spec: ModelSpec, winters: Winters[Numbers], fed: Winters[Any]) -> Any:
    """Return the share of each lake's fish exchanged with connected waters in a year."""
    if not winters.any_connected:
        return pt.zeros_like(fed.connected)
    model = pm.modelcontext(None)
    if "exchange" not in model.named_vars:
        from_prior("exchange", spec.priors["exchange"])
    return model["exchange"] * fed.connected
