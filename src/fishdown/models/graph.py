"""The PyMC model of a specification and a campaign's arrays.

`build` reads as the outline of the model; each step is one function. The densities are the
functions of the parts, which the tests compare with SciPy, with PyTensor's tensors as arguments.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pymc as pm
import pytensor.tensor as pt

from fishdown.labels import net_labels
from fishdown.models.coordinates import RoomAboveBound
from fishdown.models.hazard import log_hazard
from fishdown.models.part import with_marks
from fishdown.models.parts.catch import SCHOOLING_BY_LAKE, catch_log_density
from fishdown.models.parts.counting.terms import counting_log_density
from fishdown.models.parts.marks.graph import (
    by_season,
    capture_odds,
    marks_there,
    mean_share,
    share_of_marks,
)
from fishdown.models.parts.marks.used_up import odds_of_mark, share_left, still_there
from fishdown.models.parts.open_lake.graph import open_lake
from fishdown.models.parts.open_lake.present import shortfall_log_density, ways_correction
from fishdown.models.parts.recaptures import hypergeometric
from fishdown.models.parts.recaptures.node import recaptures_log_density
from fishdown.models.parts.scatter import scattered
from fishdown.models.parts.surveys.graph import add_surveys
from fishdown.models.parts.weights.graph import add_weights
from fishdown.models.parts.years.graph import carried_marks, link_years
from fishdown.models.variables import from_prior, in_each_lake

if TYPE_CHECKING:
    from fishdown.models.data import ModelData
    from fishdown.models.parts.open_lake.present import OpenLake
    from fishdown.models.spec import ModelSpec
    from fishdown.typing import Numbers

# By this name the hazard of the pulls is found again, to compare it with other ways to it.
HAZARD = "hazard"


def build(spec: ModelSpec, data: ModelData[Numbers], coords: dict[str, Any]) -> pm.Model:
    """Assemble the graph.

    Parameters
    ----------
    spec : ModelSpec
        Already fitted to the campaign by `fitting_spec`.
    data : ModelData
        From `model_data`. Its arrays become data nodes, so that the compiled model serves
        another campaign of as many lakes and seasons.
    coords : dict
        Labels of the dimensions ``lake`` and ``season``; those of nets, nights and the like may be
        more than the pulls have.

    Returns
    -------
    pymc.Model
        Variables are named as the parameters of `fishdown.models.parts`, plus ``abundance`` (fish
        before the first pull of each season) and the sampler coordinates.
    """
    with pm.Model(coords={"net": net_labels(data.pulls.nets), **coords}) as model:
        nodes = data.nodes()
        lake = open_lake(spec)
        share = share_of_marks(spec, data, nodes)
        carried = pt.zeros_like(nodes.counts.marks_at_start)
        if spec.part("years") == "linked":
            carried = carried_marks(spec, data, nodes)
        marks = by_season(share * nodes.counts.marks_at_start + carried, nodes)
        of_all = mean_share(spec, nodes, share)
        unmarked = _unmarked(spec, data, nodes, lake, marks, of_all)
        _counting(nodes, unmarked, share, carried)
        if with_marks(spec.parts) and not hypergeometric(spec.parts):
            _recaptures(spec, nodes, lake, unmarked + marks, share, carried)
        if spec.part("evidence") != "marks":
            vulnerable_fish = unmarked + marks
            logarithm, effects = log_hazard(spec, data, nodes, vulnerable_fish)
            hazard = pt.exp(logarithm)
            hazard.name = HAZARD
            _catches(spec, nodes, lake, vulnerable_fish, hazard, effects)
        if spec.part("weights") == "measured":
            add_weights(spec, nodes, model["abundance"])
    return model


def _unmarked(
    spec: ModelSpec,
    data: ModelData[Numbers],
    nodes: ModelData[Any],
    lake: OpenLake,
    marks: Any,
    share: Any,
) -> Any:
    """Return the unmarked vulnerable fish; add abundance and its prior."""
    median, log_sd = spec.priors["density"].numbers
    log_median = np.log(median) + pt.log(nodes.area)[nodes.lake_of_season]
    start = np.log(median) + np.log(data.area[data.lake_of_season])
    walk = RoomAboveBound(nodes.counts.bound, share, pt)
    log_room = pm.Flat("log_room", dims="season", initval=start)
    # Of fish that die, more must have been there than were taken out.
    unmarked = walk.reached(log_room) + lake.needed(nodes.times.gone, nodes.times.end, xp=pt)
    vulnerable: Any = (
        pm.modelcontext(None)["vulnerable"] if spec.part("vulnerable") == "some" else 1.0
    )
    abundance = pm.Deterministic("abundance", (unmarked + marks) / vulnerable, dims="season")
    starts: Any = slice(None)
    if data.winters is not None:
        starts = data.winters.starts
        pm.Potential("years", link_years(spec, data, nodes, abundance).sum())
    density = pm.logp(pm.LogNormal.dist(mu=log_median[starts], sigma=log_sd), abundance[starts])
    moved = walk.log_slope(log_room) - pt.log(vulnerable)
    pm.Potential("abundance_prior", density.sum() + moved.sum())
    return unmarked


def _counting(nodes: ModelData[Any], unmarked: Any, share: Any, carried: Any) -> None:
    counts = nodes.counts
    unknowns = pt.concatenate([unmarked, share, carried])
    entries = counts.entry_coefficient * unknowns[counts.entry_unknown]
    fish = pt.inc_subtensor(pt.zeros_like(counts.term_offset)[counts.entry_term], entries)
    terms = counting_log_density(fish, counts.term_offset, counts.term_weight, xp=pt)
    pm.Potential("counting", terms.sum() + counts.constant)


def _recaptures(
    spec: ModelSpec,
    nodes: ModelData[Any],
    lake: OpenLake,
    vulnerable_fish: Any,
    share: Any,
    carried: Any,
) -> None:
    """Add the recaptures, given the catches, if they are not hypergeometric."""
    looks: Any = nodes.counts.examined
    fish = vulnerable_fish[looks.season]
    departure: dict[str, Any] = {}
    visible: Any = 1.0
    if spec.part("recaptures") == "clumped":
        departure["clumping"] = from_prior("clumping", spec.priors["clumping"])
    if spec.part("marks") == "effective":
        there, odds = marks_there(spec, nodes, lake), capture_odds(spec, nodes)
        pm.Deterministic("effective_marks", there * odds, dims="season")
        left = share_left(looks.gone_since, fish, xp=pt)
        of_catch = odds[looks.season]
        visible = still_there(there[looks.season], left, of_catch, xp=pt)
        present = fish - looks.gone_before
        departure["odds"] = odds_of_mark(visible, of_catch, looks.looked_at, present, xp=pt)
        if nodes.surveys is not None:
            of_earlier, clumping = by_season(carried, nodes), departure.get("clumping", 0.0)
            add_surveys(nodes.surveys, lake, vulnerable_fish, of_earlier, there, odds, clumping)
    elif spec.part("recaptures") == "uneven":
        departure["odds"] = capture_odds(spec, nodes)[looks.season]
    own = pt.inc_subtensor(
        pt.zeros_like(looks.looked_at)[looks.release_catch],
        looks.released * share[looks.release_group],
    )
    marked = own + by_season(carried, nodes)[looks.season] - looks.removed
    # Marked and unmarked fish die alike; those that arrive are unmarked.
    counted = fish * (1.0 + lake.arrived(nodes.times.examined_open_years))
    unmarked = counted - looks.gone_before - visible * marked
    if spec.part("marks") == "effective":
        # As in catches, no fewer than there were: the bound knows of no mark that is left.
        unmarked = pt.maximum(unmarked, looks.looked_at - looks.recaptured)
    terms = recaptures_log_density(looks.recaptured, looks.looked_at, marked, unmarked, **departure)
    pm.Potential("recaptures", terms.sum())


def _catches(
    spec: ModelSpec,
    nodes: ModelData[Any],
    lake: OpenLake,
    vulnerable_fish: Any,
    hazard: Any,
    effects: Any,
) -> None:
    catches = nodes.catches
    # In the half fish below the bound a pull would catch more fish than there are, where the
    # beta-binomial density has a pole.
    fish = vulnerable_fish[catches.season]
    closed = pt.maximum(fish - catches.gone_before, catches.caught)
    before: Any = closed
    ways: Any = 0.0
    if not lake.closed:
        present = lake.present(fish, catches.gone_before, nodes.times.pulls, xp=pt)
        before = pt.maximum(present, catches.caught)
        ways = ways_correction(catches.caught, before, closed, xp=pt)
        short = shortfall_log_density(catches.caught, present, xp=pt)
        # Before a pull that was never made all fish are gone.
        ways = ways + pt.switch(catches.on_record > 0.0, short, 0.0)
    schooling = None
    if spec.part("catch") != "chance":
        schooling = in_each_lake(spec, "schooling", SCHOOLING_BY_LAKE, "schooling")[catches.lake]
        if spec.part("scatter") == "with_catchability":
            exponent = from_prior("scatter_exponent", spec.priors["scatter_exponent"])
            schooling = scattered(schooling, effects, exponent, xp=pt)
    terms = catch_log_density(catches.caught, before, hazard, schooling, xp=pt)
    pm.Potential("catches", (terms + ways).sum())
