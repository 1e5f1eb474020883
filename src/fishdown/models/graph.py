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
from fishdown.models.counts import all_marks_count
from fishdown.models.hazard import from_prior, log_hazard
from fishdown.models.ledger import HALF_FISH, counting_log_density
from fishdown.models.recaptures_node import recaptures_log_density
from fishdown.models.shedding import double_mark_log_density, still_marked
from fishdown.models.thinning import at_least_one, share_at, share_log_density
from fishdown.models.weighing import add_weights
from fishdown.models.winter import carried_marks, link_years

if TYPE_CHECKING:
    from fishdown.models.data import ModelData
    from fishdown.models.spec import ModelSpec

# By this name `posterior.at_draws` finds it again.
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
        carried = pt.zeros_like(fed["marks_at_start"])
        if spec.part("years") == "linked":
            carried = carried_marks(spec, data, fed)
        marks = _by_season(share * fed["marks_at_start"] + carried, fed)
        unmarked = _unmarked(spec, data, fed, marks, _mean_share(spec, fed, share))
        _counting(fed, unmarked, share, carried)
        if spec.part("recaptures") != "by_lot" and spec.part("evidence") != "depletion":
            _recaptures(spec, fed, unmarked + marks, share, carried)
        if spec.part("evidence") != "marks":
            reachable = unmarked + marks
            hazard = pt.exp(log_hazard(spec, data, fed, reachable))
            # By this name `posterior.at_draws` finds it again.
            hazard.name = HAZARD
            _catches(spec, fed, reachable, hazard)
        if spec.part("weights") == "measured":
            add_weights(spec, fed)
    return model


def _share_of_marks(spec: ModelSpec, data: ModelData, fed: dict[str, Any]) -> Any:
    """Return the share of each pool's marks that counts, of those that were released alive."""
    # Surer than this the logarithm of what is lost would be infinite in floating point.
    chance = pt.minimum(_chance_to_count(spec, fed), 1.0 - 1e-12)
    if all_marks_count(spec):
        return pt.ones_like(fed["marks_at_start"])
    # Each mark counts by chance; the share that came of it is at least what was seen again.
    marks = fed["marks_released"]
    count = len(data.counts.pool_season)
    step = pm.Flat("share_step", shape=count, initval=np.zeros(count))
    share, moved = share_at(
        step, marks, fed["smallest_share"], chance, log=pt.log, exp=pt.exp, softplus=pt.softplus
    )
    by_chance = share_log_density(marks, share, chance, gammaln=pt.gammaln, log=pt.log, exp=pt.exp)
    pm.Potential("marks_by_chance", (by_chance + moved).sum())
    return pm.Deterministic("share_of_marks", share)


def _chance_to_count(spec: ModelSpec, fed: dict[str, Any]) -> Any:
    """Return the chance of a mark of each pool to count."""
    chance = pt.ones_like(fed["marks_released"])
    if spec.part("reach") == "some":
        chance = chance * from_prior("reach", spec.priors["reach"])
    if spec.part("evidence") == "depletion":
        return chance
    if spec.part("marks") == "lost":
        chance = chance * from_prior("marks_kept", spec.priors["marks_kept"])
    if spec.part("marks") == "shed":
        clip = from_prior("clip_kept", spec.priors["clip_kept"])
        tag = from_prior("tag_kept", spec.priors["tag_kept"])
        chance = chance * still_marked(fed["pool_kinds"], clip, tag)
        both, clip_only, tag_only = (fed["double_marks"][kind] for kind in range(3))
        told = double_mark_log_density(
            both, clip_only, tag_only, clip, tag, gammaln=pt.gammaln, log=pt.log
        )
        pm.Potential("left_of_two_marks", told)
    if spec.part("deaths") == "unseen":
        chance = chance * from_prior("marking_survival", spec.priors["marking_survival"])
    return chance


def _by_season(marks: Any, fed: dict[str, Any]) -> Any:
    """Add up the marks of each season's pools."""
    return pt.inc_subtensor(pt.zeros_like(fed["bound"])[fed["pool_season"]], marks)


def _mean_share(spec: ModelSpec, fed: dict[str, Any], share: Any) -> Any:
    """Return the share of each season's marks that counts; all, where there are none."""
    if all_marks_count(spec):
        return pt.ones_like(fed["bound"])
    released = _by_season(fed["marks_released"], fed)
    counting = _by_season(fed["marks_released"] * share, fed)
    none = 1.0 - at_least_one(released)
    return (counting + none) / (released + none)


def _unmarked(
    spec: ModelSpec, data: ModelData, fed: dict[str, Any], marks: Any, mean_share: Any
) -> Any:
    """Return the unmarked fish that nets can reach; abundance follows, and its prior."""
    median, log_sd = spec.priors["density"].numbers
    log_median = np.log(median) + fed["log_area"][fed["lake_of_season"]]
    start = np.log(median) + np.log(data.area[data.lake_of_season])
    # The sampler walks over the logarithm of the room above the bound, where the bound holds by
    # itself; its prior is that of abundance, moved. Recaptures tell of fish per mark that counts:
    # the room is taken relative to these.
    log_room = pm.Flat("log_room", dims="season", initval=start)
    unmarked = fed["bound"] - HALF_FISH + pt.exp(log_room) * mean_share
    reach: Any = pm.modelcontext(None)["reach"] if spec.part("reach") == "some" else 1.0
    abundance = pm.Deterministic("abundance", (unmarked + marks) / reach, dims="season")
    starts: Any = slice(None)
    if data.winters is not None:
        starts = data.winters.starts
        pm.Potential("years", link_years(spec, data, fed, abundance).sum())
    density = pm.logp(pm.LogNormal.dist(mu=log_median[starts], sigma=log_sd), abundance[starts])
    moved = log_room + pt.log(mean_share) - pt.log(reach)
    pm.Potential("abundance_prior", density.sum() + moved.sum())
    return unmarked


def _counting(fed: dict[str, Any], unmarked: Any, share: Any, carried: Any) -> None:
    unknowns = pt.concatenate([unmarked, share, carried])
    entries = fed["entry_coefficient"] * unknowns[fed["entry_unknown"]]
    fish = pt.inc_subtensor(pt.zeros_like(fed["term_offset"])[fed["entry_term"]], entries)
    terms = counting_log_density(fish, fed["term_offset"], fed["term_weight"], gammaln=pt.gammaln)
    pm.Potential("counting", terms.sum() + fed["constant"].sum())


def _recaptures(
    spec: ModelSpec, fed: dict[str, Any], reachable: Any, share: Any, carried: Any
) -> None:
    """Add the recaptures, given the catches, where marked fish are not in them by lot."""
    uneven = spec.part("recaptures") == "uneven"
    name = "marked_odds" if uneven else "clumping"
    departure = {"odds" if uneven else "clumping": from_prior(name, spec.priors[name])}
    season = fed["looked_season"]
    marked = pt.dot(fed["looked_released"], share) + _by_season(carried, fed)[season]
    marked = marked - fed["looked_removed"]
    unmarked = reachable[season] - fed["looked_gone"] - marked
    terms = recaptures_log_density(
        fed["looked_recaptured"], fed["looked_caught"], marked, unmarked, **departure
    )
    pm.Potential("recaptures", terms.sum())


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
