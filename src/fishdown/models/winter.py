"""Years linked, as a graph: how many fish and marks a season starts with, given the one before."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pymc as pm
import pytensor.tensor as pt

from fishdown.models.hazard import from_prior
from fishdown.models.ledger import HALF_FISH
from fishdown.models.thinning import thinning_log_density
from fishdown.models.years import expected_fish, spread_of_start

if TYPE_CHECKING:
    from fishdown.models.data import ModelData
    from fishdown.models.spec import ModelSpec

    type Fed = dict[str, Any]


def carried_marks(spec: ModelSpec, data: ModelData, fed: Fed) -> Any:
    """Return the marks of earlier years that are at large as each season starts, in fish.

    Every mark that a season left lasts by the same chance. The number that did is free between
    the fewest that later recaptures allow and all of them.
    """
    winters = data.winters
    carried = pt.zeros_like(fed["bound"])
    survival = from_prior("survival", spec.priors["survival"])
    if winters is None or not winters.carrying:
        return carried
    kept = from_prior("marks_over_winter", spec.priors["marks_over_winter"])
    lake = data.lake_of_season
    chance = (survival * kept * (1.0 - _exchanged(spec, data, fed)))[lake]
    count = sum(len(level) for level in winters.carrying)
    # The sampler walks over how far each number lies from what is expected of it: the chance,
    # common to all winters, would otherwise hardly move against all these numbers at once.
    step = pm.Flat("carried_step", shape=count, initval=np.zeros(count))
    moved, first = [], 0
    for level in winters.carrying:
        before, after = winters.before[level], winters.after[level]
        needed = fed["marks_needed"][after]
        # Catches that nobody looked through are counted with an estimate of their marks, which
        # may take a few too many.
        left = pt.maximum(carried[before] + fed["marks_gained"][before], needed)
        room = left - needed + 2.0 * HALF_FISH
        p = chance[after]
        scale = 1.0 / pt.sqrt(1.0 + room * p * (1.0 - p))
        part = pt.sigmoid(pt.log(p) - pt.log1p(-p) + scale * step[first : first + len(level)])
        lasted = needed - HALF_FISH + room * part
        carried = pt.set_subtensor(carried[after], lasted)
        density = thinning_log_density(lasted, left - lasted, p, gammaln=pt.gammaln, log=pt.log)
        moved.append(density + pt.log(room * scale) + pt.log(part) + pt.log1p(-part))
        first += len(level)
    pm.Potential("marks_over_winters", pt.concatenate(moved).sum())
    return pm.Deterministic("carried_marks", carried, dims="season")


def link_years(spec: ModelSpec, data: ModelData, fed: Fed, abundance: Any) -> Any:
    """Return the log-density of each season's abundance, given the season before."""
    winters = data.winters
    assert winters is not None  # linked years always have winters
    model = pm.modelcontext(None)
    recruits = (_recruits(spec, data, fed) * pt.exp(fed["log_area"]))[data.lake_of_season]
    outside: Any = 0.0
    if data.any_connected:
        density = from_prior("outside_density", spec.priors["outside_density"])
        outside = (density * pt.exp(fed["log_area"]))[data.lake_of_season][winters.after]
    recruits = recruits[winters.after]
    expected = expected_fish(
        pt.maximum(abundance - fed["gone"], 0.0)[winters.before],
        model["survival"],
        recruits,
        _exchanged(spec, data, fed)[data.lake_of_season][winters.after],
        outside,
    )
    spread = spread_of_start(
        expected,
        recruits,
        from_prior("recruit_variation", spec.priors["recruit_variation"]),
        from_prior("process_error", spec.priors["process_error"]),
        log1p=pt.log1p,
        sqrt=pt.sqrt,
    )
    centre = pt.log(expected) - 0.5 * spread**2
    return pm.logp(pm.LogNormal.dist(mu=centre, sigma=spread), abundance[winters.after])


def _recruits(spec: ModelSpec, data: ModelData, fed: Fed) -> Any:
    """Return the young fish that join the stock of each lake in a year, fish/ha."""
    prior = spec.priors["recruits"]
    if spec.part("pooling") == "none":
        log_recruits = pt.log(from_prior("recruits_open", prior, dims="lake"))
    else:
        typical = pt.log(from_prior("recruits_typical", prior))
        spread = from_prior("recruit_spread", spec.priors["recruit_spread"])
        # Not centred: most lakes have a few winters to tell their recruits by.
        log_recruits = typical + spread * pm.Normal("recruits_step", dims="lake")
    if data.any_young_eaten:
        factor = from_prior("young_eaten_effect", spec.priors["young_eaten_effect"])
        log_recruits = log_recruits + pt.log(factor) * fed["young_eaten"]
    return pm.Deterministic("recruits", pt.exp(log_recruits), dims="lake")


def _exchanged(spec: ModelSpec, data: ModelData, fed: Fed) -> Any:
    """Return the share of each lake's fish that connected waters exchange in a year."""
    if not data.any_connected:
        return pt.zeros_like(fed["connected"])
    model = pm.modelcontext(None)
    if "exchange" not in model.named_vars:
        from_prior("exchange", spec.priors["exchange"])
    return model["exchange"] * fed["connected"]
