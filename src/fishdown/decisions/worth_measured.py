"""What each measurement would find in a lake, simulated, and what finding it says of every draw.

`models/README.md`, section "What a measurement is worth", has the densities.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from scipy import special

from fishdown.equality import by_value
from fishdown.models.parts.catch import catch_log_density
from fishdown.models.parts.marks.shedding import double_mark_log_density
from fishdown.models.parts.surveys.runs import ODDS_NODES, normal_nodes

if TYPE_CHECKING:
    from collections.abc import Callable

    from fishdown.typing import FloatArray

# Nine in ten of the tags that are there are heard (our judgement, no source).
HEARD = 0.9
# Pulls that fish are weighed from.
PULLS_WEIGHED = 5
_NEVER = 1e-9


@dataclass(frozen=True)
class Measurement:
    """What may be measured next, and how much of it.

    Attributes
    ----------
    name : str
        "pen", "double_marks", "antenna", "second_gear", "weights" or "pulls".
    fish : int
        Marked fish in the pen, fish checked for two marks, tags listened for, fish looked at, fish
        weighed, or pulls.
    """

    name: str
    fish: int


@by_value
@dataclass(frozen=True)
class PullsToCome:
    """What more pulls may bring, draw by draw.

    Attributes
    ----------
    fish : ndarray, shape (draw,)
        Before the first of them.
    hazard, caught : ndarray, shape (draw, pull)
    schooling : ndarray, shape (draw, pull), or None
    marked_odds : ndarray, shape (draw,)
        Of a marked to an unmarked fish in a catch that is looked at for marks; 0 without marks.
    """

    fish: FloatArray
    hazard: FloatArray
    caught: FloatArray
    schooling: FloatArray | None
    marked_odds: FloatArray


@by_value
@dataclass(frozen=True)
class LakeDraws:
    """Draws of what measurements depend on, shape (draw,) each, and of the biomass left."""

    left: FloatArray
    alive: FloatArray
    clip: FloatArray
    tag: FloatArray
    retained: FloatArray
    tag_there: FloatArray
    marked_odds: FloatArray
    weight: FloatArray
    clumping: FloatArray
    weight_variation: FloatArray
    pull_spread: FloatArray
    gear_odds: tuple[float, ...]
    threshold: float
    pulls: PullsToCome | None = None


def log_weight(
    lake: LakeDraws, measured: Measurement, truths: Any, rng: np.random.Generator
) -> FloatArray:
    """Measure a lake as it is in some draws, and weigh all draws by what is found.

    Parameters
    ----------
    truths : ndarray of int, shape (truth,)
        Positions of the draws that are taken as true in turn.

    Returns
    -------
    ndarray, shape (truth, draw)
        Log-densities, but for what is the same for all draws.
    """
    return _FINDS[measured.name](lake, measured.fish, truths, rng)


def _binomial(seen: Any, of: Any, chance: FloatArray) -> FloatArray:
    """Return the log-density of what was seen (truth, 1) at all draws, without coefficients."""
    chance = np.clip(chance, _NEVER, 1.0 - _NEVER)
    found: FloatArray = seen * np.log(chance) + (of - seen) * np.log1p(-chance)
    return found


def _in_pen(lake: LakeDraws, fish: int, truths: Any, rng: np.random.Generator) -> FloatArray:
    alive = rng.binomial(fish, lake.alive[truths])[:, None]
    marked = rng.binomial(alive[:, 0], lake.retained[truths])[:, None]
    return _binomial(alive, fish, lake.alive) + _binomial(marked, alive, lake.retained)


def _double_marked(lake: LakeDraws, fish: int, truths: Any, rng: np.random.Generator) -> FloatArray:
    c, t = (np.clip(share, _NEVER, 1.0 - _NEVER) for share in (lake.clip, lake.tag))
    chances = np.stack([c * t, c * (1.0 - t), (1.0 - c) * t], axis=1)
    seen = rng.multinomial(fish, (chances / chances.sum(axis=1, keepdims=True))[truths])
    both, clip_only, tag_only = (count[:, None] for count in seen.T)
    found: FloatArray = double_mark_log_density(both, clip_only, tag_only, c, t)
    return found


def _heard(lake: LakeDraws, tags: int, truths: Any, rng: np.random.Generator) -> FloatArray:
    chance = HEARD * lake.tag_there
    return _binomial(rng.binomial(tags, chance[truths])[:, None], tags, chance)


def _looked_at(
    middle: FloatArray, spread: FloatArray, fish: Any, truths: Any, rng: np.random.Generator
) -> FloatArray:
    """Look for marks among fish (a number, or one for each truth) of odds that vary.

    Middle and spread are those of the logarithm of the odds.
    """
    nodes, log_node_weight = normal_nodes(ODDS_NODES)
    own = middle[truths] + spread[truths] * rng.standard_normal(len(truths))
    seen = rng.binomial(fish, special.expit(own))[:, None]
    fish = np.reshape(fish, (-1, 1))
    logit = middle + spread * nodes[:, None]
    found = np.full((len(truths), len(middle)), -np.inf)
    for node, weight in zip(logit, log_node_weight, strict=True):
        log_chance = seen * special.log_expit(node) + (fish - seen) * special.log_expit(-node)
        found = np.logaddexp(found, weight + log_chance)
    return found


def _by_second_gear(
    lake: LakeDraws, fish: int, truths: Any, rng: np.random.Generator
) -> FloatArray:
    median, log_sd = lake.gear_odds
    spread = np.hypot(log_sd, lake.clumping)
    return _looked_at(np.log(median * lake.marked_odds), spread, fish, truths, rng)


def _weighed(lake: LakeDraws, fish: int, truths: Any, rng: np.random.Generator) -> FloatArray:
    sd = np.sqrt(lake.weight_variation**2 / fish + lake.pull_spread**2 / PULLS_WEIGHED)
    middle = np.log(lake.weight)
    seen = (middle[truths] + sd[truths] * rng.standard_normal(len(truths)))[:, None]
    found: FloatArray = -np.log(sd) - 0.5 * ((seen - middle) / sd) ** 2
    return found


def _pulled(lake: LakeDraws, pulls: int, truths: Any, rng: np.random.Generator) -> FloatArray:
    """Pull by pull: the catch, and the marked fish in it."""
    come = lake.pulls
    assert come is not None
    found = np.zeros((len(truths), len(lake.left)))
    before = np.rint(come.fish) - np.zeros((len(truths), 1))
    for pull in range(pulls):
        caught = come.caught[truths, pull][:, None]
        enough = before >= caught
        there = np.where(enough, before, caught)
        schooling = None if come.schooling is None else come.schooling[:, pull]
        density = catch_log_density(caught, there, come.hazard[:, pull], schooling)
        # It lacks the number of ways to take the catch.
        density = density + special.gammaln(there + 1.0) - special.gammaln(there - caught + 1.0)
        found = found + np.where(enough, density, -np.inf)
        if come.marked_odds.any():
            middle = np.log(np.maximum(come.marked_odds, _NEVER))
            found += _looked_at(middle, lake.clumping, caught[:, 0].astype(np.int64), truths, rng)
        before = before - caught
    return found


_FINDS: dict[str, Callable[[LakeDraws, int, Any, np.random.Generator], FloatArray]] = {
    "pen": _in_pen,
    "double_marks": _double_marked,
    "antenna": _heard,
    "second_gear": _by_second_gear,
    "weights": _weighed,
    "pulls": _pulled,
}
