"""Log-densities of runs of another gear, with what is not known of the gear integrated out."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from fishdown.models.array_library import NUMPY, log_sum_exp
from fishdown.models.parts.surveys.runs import ODDS_NODES, VARIATION_NODES, normal_nodes

if TYPE_CHECKING:
    from fishdown.models.parts.surveys.runs import Efforts, Looks

# Nearer to 0 no share of marked fish is told from it.
_LEAST = 1e-12


def looks_log_density(
    looks: Looks[Any], marked: Any, unmarked: Any, kept: Any, clumping: Any, *, xp: Any = NUMPY
) -> Any:
    """Return the log-density of the marked fish in all runs, without binomial coefficients.

    Parameters
    ----------
    looks : Looks
    marked, unmarked : array or tensor, shape (look,)
        Fish at large on the day, fish.
    kept : array or tensor, shape (look,)
        Share of the marks that is kept, seen, and on a living fish.
    clumping : array, tensor or float
        How much marked fish keep together, as a coefficient of variation.
    xp : module
        The array library in use.
    """
    runs, log_weight_runs = normal_nodes(VARIATION_NODES)
    log_weight_odds = normal_nodes(ODDS_NODES)[1]
    ratio = xp.log(xp.maximum(marked, _LEAST) / xp.maximum(unmarked, _LEAST)) + xp.log(kept)
    apart = clumping * runs - 0.5 * clumping**2
    # Axes: run, node of the odds, node of the variation between runs.
    logit = ratio[:, None, None] + looks.odds_node[looks.sort][:, :, None] + apart
    seen, others = looks.marked[:, None, None], (looks.looked_at - looks.marked)[:, None, None]
    log_chance = -seen * xp.softplus(-logit) - others * xp.softplus(logit)
    by_run = log_sum_exp(log_chance + log_weight_runs, xp=xp)
    by_sort = _sum_by(by_run, looks.sort, looks.odds_node, xp)
    return log_sum_exp(by_sort + log_weight_odds, xp=xp).sum()


def efforts_log_density(efforts: Efforts[Any], fish: Any, *, xp: Any = NUMPY) -> Any:
    """Return the log-density of the contrasts of catch per effort, gear by gear.

    Parameters
    ----------
    efforts : Efforts
    fish : array or tensor, shape (effort,)
        Fish at large on the day.
    xp : module
        The array library in use.
    """
    log_weight = normal_nodes(VARIATION_NODES)[1]
    # Axes: run, node of the variation.
    precision = 1.0 / (efforts.variation**2 + efforts.chance[:, None])
    off = (efforts.log_rate - xp.log(xp.maximum(fish, _LEAST)))[:, None] + 0.0 * precision
    like = efforts.gears[:, None] + 0.0 * efforts.variation

    def total(values: Any) -> Any:
        return _sum_by(values, efforts.gear, like, xp)

    weight = total(precision)
    middle = total(precision * off) / weight
    apart = total(precision * (off - middle[efforts.gear]) ** 2)
    # With a flat prior on the logarithm of the gear's efficiency one contrast fewer than runs is
    # left.
    each = 0.5 * (total(xp.log(precision)) - xp.log(weight) - apart)
    return log_sum_exp(each + log_weight, xp=xp).sum()


def _sum_by(values: Any, place: Any, like: Any, xp: Any) -> Any:
    """Sum over the first axis by place, to the shape of another array."""
    if xp is NUMPY:
        import numpy as np

        found = np.zeros(like.shape)
        np.add.at(found, place, values)
        return found
    return xp.inc_subtensor(xp.zeros_like(like)[place], values)
