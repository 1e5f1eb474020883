"""Linked years in the graph: fish and marks at the start of a season, given the one before."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pymc as pm
import pytensor.tensor as pt

from fishdown.models.coordinates import MarksThatLasted
from fishdown.models.parts.marks.thinning import thinning_log_density
from fishdown.models.parts.years import REPLACEMENT_BY_LAKE, SURVIVAL_BY_LAKE
from fishdown.models.parts.years.transition import (
    Transition,
    after_movements,
    replaced,
    survival_of_winter,
)
from fishdown.models.variables import from_prior, in_each_lake

if TYPE_CHECKING:
    from fishdown.models.data import ModelData
    from fishdown.models.parts.years.links import Winters
    from fishdown.models.spec import ModelSpec
    from fishdown.typing import IntArray, Numbers


def carried_marks(spec: ModelSpec, data: ModelData[Numbers], nodes: ModelData[Any]) -> Any:
    """Return the marks of earlier years at large at the start of each season, fish.

    Each mark at large at a season's end is retained with the same probability, in which the marked
    fish share the luck of all fish of that winter. The number retained is free between the fewest
    that later recaptures allow and all of them.
    """
    winters, fed = data.linked, nodes.linked
    carried = pt.zeros_like(nodes.counts.bound)
    lake = data.lake_of_season[winters.after]
    survival = _winter_survival(spec, winters, lake)
    if not winters.carrying:
        return carried
    kept = from_prior("overwinter_retention", spec.priors["overwinter_retention"])
    chance = survival * kept * (1.0 - _exchanged(spec, winters, fed)[lake])
    chance = chance * (1.0 - fed.winterkill[winters.before])
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
        walk = MarksThatLasted(needed, left, chance[level], pt)
        mine = step[first : first + len(level)]
        lasted = walk.reached(mine)
        carried = pt.set_subtensor(carried[after], lasted)
        density = thinning_log_density(lasted, left - lasted, chance[level], xp=pt)
        moved.append(density + walk.log_slope(mine))
        first += len(level)
    pm.Potential("marks_over_winters", pt.concatenate(moved).sum())
    return pm.Deterministic("carried_marks", carried, dims="season")


def link_years(
    spec: ModelSpec, data: ModelData[Numbers], nodes: ModelData[Any], abundance: Any
) -> Any:
    """Return the log-density of each season's abundance, given the season before."""
    winters, fed = data.linked, nodes.linked
    lake = data.lake_of_season[winters.after]
    level = pt.zeros_like(nodes.area)
    level = pt.set_subtensor(level[data.lake_of_season[winters.starts]], abundance[winters.starts])
    recruits = _recruits(spec, winters, fed, level)
    pm.Deterministic("recruits", recruits / nodes.area, dims="lake")
    outside: Any = 0.0
    if winters.any_connected:
        outside = (from_prior("outside_ratio", spec.priors["outside_ratio"]) * level)[lake]
    left, variance = after_movements(abundance[winters.before], fed, winters.before, xp=pt)
    winter = Transition(
        left=left,
        survival=_winter_survival(spec, winters, lake),
        recruits=recruits[lake],
        recruit_variation=from_prior("recruit_variation", spec.priors["recruit_variation"]),
        exchanged=_exchanged(spec, winters, fed)[lake],
        outside=outside,
        process_error=from_prior("process_error", spec.priors["process_error"]),
        left_variance=variance,
        xp=pt,
    )
    start = pm.LogNormal.dist(mu=winter.centre, sigma=winter.spread)
    return pm.logp(start, abundance[winters.after])


def _winter_survival(spec: ModelSpec, winters: Winters[Numbers], lake: IntArray) -> Any:
    """Return the share of fish, marked or not, that survive each winter."""
    model = pm.modelcontext(None)
    if "winter_survival" not in model.named_vars:
        of_lake = in_each_lake(spec, "survival", SURVIVAL_BY_LAKE, "survival")
        spread = from_prior("winter_spread", spec.priors["winter_spread"])
        model.add_coord("winter", length=len(lake))
        luck = pm.Normal("winter_step", dims="winter")
        survival = survival_of_winter(of_lake[lake], spread, luck, xp=pt)
        pm.Deterministic("winter_survival", survival, dims="winter")
    return model["winter_survival"]


def _recruits(spec: ModelSpec, winters: Winters[Numbers], fed: Winters[Any], level: Any) -> Any:
    """Return the recruits of an average year of each lake, fish."""
    ratio = in_each_lake(spec, "replacement", REPLACEMENT_BY_LAKE, "replacement")
    if winters.any_young_eaten:
        factor = from_prior("young_eaten_effect", spec.priors["young_eaten_effect"])
        ratio = ratio * pt.exp(pt.log(factor) * fed.young_eaten)
    return ratio * replaced(pm.modelcontext(None)["survival"], level)


def _exchanged(spec: ModelSpec, winters: Winters[Numbers], fed: Winters[Any]) -> Any:
    """Return the share of each lake's fish exchanged with connected waters in a year."""
    if not winters.any_connected:
        return pt.zeros_like(fed.connected)
    model = pm.modelcontext(None)
    if "exchange" not in model.named_vars:
        from_prior("exchange", spec.priors["exchange"])
    return model["exchange"] * fed.connected
