"""The lakes that a plan supposes, and what may go wrong in them.

`models/README.md`, section "Planning", has the figures that the ranges come from.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from fishdown.intervals import normal_sd
from fishdown.worlds import LakeTruth, World
from fishdown.worlds.antenna import AntennaTruth

if TYPE_CHECKING:
    from fishdown.decisions.plan_design import Candidate, Guess, Plan


@dataclass(frozen=True)
class Nuisance:
    """Something that goes wrong, or differs, in a lake: how strongly, drawn anew for each.

    Attributes
    ----------
    low, high : float
    shape : {"even", "about one", "by factors"}
        Uniform; triangular on the logarithm, likeliest at 1; uniform on the logarithm.
    """

    low: float
    high: float
    shape: Literal["even", "about one", "by factors"] = "even"

    def drawn(self, rng: np.random.Generator) -> float:
        """Draw its strength in one lake."""
        if self.shape == "even":
            return float(rng.uniform(self.low, self.high))
        low, high = np.log(self.low), np.log(self.high)
        if self.shape == "about one":
            return float(np.exp(rng.triangular(low, 0.0, high)))
        return float(np.exp(rng.uniform(low, high)))


# Not the priors of any model: by names of `fishdown.worlds.World`.
NUISANCES = {
    "clip_retention": Nuisance(0.85, 1.0),
    "tag_retention": Nuisance(0.90, 1.0),
    "post_release_survival": Nuisance(0.91, 1.0),
    "marked_hazard": Nuisance(1 / 1.6, 1.6, "about one"),
    "clumping": Nuisance(0.05, 0.6),
    "mortality": Nuisance(0.01, 0.26),
    "arriving": Nuisance(0.0, 0.01),
    "night_spread": Nuisance(0.27, 0.74),
    "net_spread": Nuisance(0.1, 0.5),
    "drift": Nuisance(0.0, 0.4),
    "net_selectivity": Nuisance(1 / 1.2, 1.2, "about one"),
    "weight_trend": Nuisance(-0.01, 0.03),
    "weight_pull_spread": Nuisance(0.03, 0.2),
    "survey_odds": Nuisance(1 / 1.6, 1.6, "about one"),
    "survey_clumping": Nuisance(0.05, 0.6),
}
# In lakes with connected waters.
ARRIVING_CONNECTED = Nuisance(0.0, 0.10)
# Of a tag to be heard on a night.
HEARD = Nuisance(0.04, 0.43, "by factors")


def draw_world(plan: Plan, design: Candidate, rng: np.random.Generator) -> World:
    """Draw a lake from what the plan supposes, and net it by a design."""
    fish, weight, fished, effect, schooling = (
        _drawn(guess, rng)
        for guess in (
            plan.fish_per_ha,
            plan.mean_weight_kg,
            plan.area_fished_ha,
            plan.temperature_effect,
            plan.schooling,
        )
    )
    lake = LakeTruth(
        "the lake",
        area_ha=plan.area_ha,
        fish=max(round(fish * plan.area_ha), design.marked),
        area_fished_ha=fished,
        temperature_effect=effect,
        mean_weight=weight,
        connected=plan.connected,
    )
    heard = HEARD.drawn(rng)
    troubles: dict[str, Any] = _troubles(plan, rng) if plan.worlds == "messy" else {}
    marks = {plan.mark: design.marked - design.double_marked, "both": design.double_marked}
    marks = {name: count for name, count in marks.items() if count}
    world = World(
        lakes=(lake,),
        marked=design.marked,
        batches=tuple(marks),
        batch_sizes=tuple(marks.values()),
        penned=design.penned,
        surveyed=design.surveyed,
        antenna=AntennaTruth(design.antenna_nights, heard) if design.antenna_nights else None,
        nets=design.nets,
        rounds=design.rounds,
        weighed=design.weighed,
        days_between=plan.days_between,
        first_day=plan.first_day,
        schooling=schooling,
        temperatures=plan.temperatures,
    )
    return replace(world, **troubles)


def strengths(plan: Plan) -> dict[str, str]:
    """Return what the simulated lakes of a plan are drawn from, as text."""
    found = NUISANCES | {"connected": ARRIVING_CONNECTED, "heard": HEARD}
    return {name: repr(one) for name, one in found.items()} if plan.worlds == "messy" else {}


def _troubles(plan: Plan, rng: np.random.Generator) -> dict[str, float]:
    """Draw what goes wrong in a lake: all of it, whatever a design has to do with it."""
    found = NUISANCES | ({"arriving": ARRIVING_CONNECTED} if plan.connected else {})
    return {name: one.drawn(rng) for name, one in found.items()}


def _drawn(guess: Guess, rng: np.random.Generator) -> float:
    """Draw a log-normal number whose 90 % interval is the guess."""
    low, high = np.log(guess)
    return float(np.exp(0.5 * (low + high) + normal_sd(low, high) * rng.standard_normal()))
