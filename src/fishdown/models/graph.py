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
from fishdown.models.data import all_marks_count
from fishdown.models.hazard import from_prior, log_hazard
from fishdown.models.ledger import counting_log_density, share_log_density
from fishdown.models.weights import weights_log_density

if TYPE_CHECKING:
    from fishdown.models.data import ModelData
    from fishdown.models.spec import ModelSpec

# Whole numbers of fish are counted on a continuous scale: the number n stands for the stretch
# from n − ½ to n + ½, so the support opens half a fish below the smallest allowed number.
HALF_FISH = 0.5
HAZARD = "hazard"


def build(spec: ModelSpec, data: ModelData, coords: dict[str, Any]) -> pm.Model:
    """Assemble the graph.

    Parameters
    ----------
    spec : ModelSpec
        Already fitted to the campaign by `fitting_spec`.
    data : ModelData
        From `model_data`. Its arrays become data nodes, so that the compiled model can be fed
        with another campaign of as many lakes and seasons.
    coords : dict
        Labels of the dimensions ``lake`` and ``season``.

    Returns
    -------
    pymc.Model
        Variables are named as in `fishdown.models.parameters`, plus ``abundance`` (fish before
        the first pull of each season) and the sampler's own working variables.
    """
    with pm.Model(coords=coords) as model:
        fed = {name: pm.Data(name, array) for name, array in data.arrays().items()}
        share = _share_of_marks(spec, data, fed)
        unmarked = _unmarked(spec, data, fed, share)
        _counting(fed, unmarked, share)
        if spec.part("evidence") != "marks":
            reachable = unmarked + share * fed["marks_at_start"]
            hazard = pt.exp(log_hazard(spec, data, fed, reachable))
            # By this name `posterior.hazards` finds it again.
            hazard.name = HAZARD
            _catches(spec, fed, reachable, hazard)
        if spec.part("weights") == "measured":
            _weights(spec, fed)
    return model


def _share_of_marks(spec: ModelSpec, data: ModelData, fed: dict[str, Any]) -> Any:
    """Return the share of each season's marks that counts, of those that were released alive."""
    chance: Any = 1.0
    for part, choice, name in (("reach", "some", "reach"), ("marks", "lost", "marks_kept")):
        if spec.part(part) == choice:
            chance = chance * from_prior(name, spec.priors[name])
    if all_marks_count(spec):
        return pt.ones_like(fed["marks_at_start"])
    # Each mark counts by chance; the share that came of it is at least what was seen again.
    lower = fed["smallest_share"]
    logit = pm.Flat("logit_share", dims="season", initval=np.zeros(len(data.bound)))
    above = pt.sigmoid(logit)
    share = lower + (1.0 - lower) * above
    marks = fed["marks_at_start"]
    moved = pt.log1p(-lower) + pt.log(above) + pt.log1p(-above)
    pm.Potential(
        "marks_by_chance",
        (share_log_density(marks, share, chance, gammaln=pt.gammaln, log=pt.log) + moved).sum(),
    )
    return pm.Deterministic("share_of_marks", share, dims="season")


def _unmarked(spec: ModelSpec, data: ModelData, fed: dict[str, Any], share: Any) -> Any:
    """Return the unmarked fish that nets can reach; abundance follows, and its prior."""
    median, log_sd = spec.priors["density"].numbers
    log_median = np.log(median) + fed["log_area"][fed["lake_of_season"]]
    start = np.log(median) + np.log(data.area[data.lake_of_season])
    # The sampler walks over the logarithm of the room above the bound, where the bound holds by
    # itself; its prior is that of abundance, moved.
    log_room = pm.Flat("log_room", dims="season", initval=start)
    unmarked = fed["bound"] - HALF_FISH + pt.exp(log_room)
    reach: Any = pm.modelcontext(None)["reach"] if spec.part("reach") == "some" else 1.0
    abundance = pm.Deterministic(
        "abundance", (unmarked + share * fed["marks_at_start"]) / reach, dims="season"
    )
    density = pm.logp(pm.LogNormal.dist(mu=log_median, sigma=log_sd), abundance)
    pm.Potential("abundance_prior", (density + log_room - pt.log(reach)).sum())
    return unmarked


def _counting(fed: dict[str, Any], unmarked: Any, share: Any) -> None:
    terms = counting_log_density(
        unmarked[fed["term_season"]],
        share[fed["term_season"]],
        fed["term_unmarked"],
        fed["term_marks"],
        fed["term_offset"],
        fed["term_weight"],
        gammaln=pt.gammaln,
    )
    pm.Potential("counting", terms.sum() + fed["constant"].sum())


def _catches(spec: ModelSpec, fed: dict[str, Any], reachable: Any, hazard: Any) -> None:
    caught = fed["caught"]
    # In the half fish below the bound a pull would take more than there is, where the density
    # of a school has a pole.
    before = pt.maximum(reachable[fed["pull_season"]] - fed["gone_before"], caught)
    if spec.part("catch") == "chance":
        terms = chance_log_density(caught, before, hazard, log1mexp=pt.log1mexp)
    else:
        schooling = from_prior("schooling", spec.priors["schooling"])
        a, b = beta_shape(hazard, schooling, exp=pt.exp)
        terms = schooling_log_density(caught, before, a, b, gammaln=pt.gammaln)
    pm.Potential("catches", terms.sum())


def _weights(spec: ModelSpec, fed: dict[str, Any]) -> None:
    prior = spec.priors["mean_weight"]
    if spec.part("pooling") == "none":
        by_season = from_prior("mean_weight", prior, dims="season")
    else:
        typical = pt.log(from_prior("mean_weight_typical", prior))
        spread = from_prior("weight_spread", spec.priors["weight_spread"])
        log_mean = pm.Normal("log_mean_weight", typical, spread, dims="season")
        by_season = pm.Deterministic("mean_weight", pt.exp(log_mean), dims="season")
    variation = from_prior("weight_variation", spec.priors["weight_variation"])
    terms = weights_log_density(
        fed["weighed"],
        fed["weight_total"],
        fed["weight_total_log"],
        by_season,
        variation,
        gammaln=pt.gammaln,
        log=pt.log,
    )
    pm.Potential("weights", terms.sum())
