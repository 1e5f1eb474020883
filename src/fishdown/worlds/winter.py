"""What becomes of a simulated lake's fish from the end of one season to the start of the next."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np

    from fishdown.worlds.truth import LakeTruth, World


@dataclass
class Stock:
    """Fish of one lake: without a mark, and with one."""

    unmarked: int
    marked: int

    @property
    def total(self) -> int:
        """All fish."""
        return self.unmarked + self.marked


def winter(stock: Stock, world: World, lake: LakeTruth, rng: np.random.Generator) -> Stock:
    """Let fish die, leave, lose marks, arrive and grow up, each at random.

    A winter's luck moves the odds of survival, for marked fish and the others alike.
    """
    odds = world.survival / (1.0 - world.survival) * float(rng.lognormal(0.0, world.winter_spread))
    survival = odds / (1.0 + odds)
    exchanged = world.exchange if lake.connected else 0.0
    lives = survival * (1.0 - exchanged)
    unmarked = int(rng.binomial(stock.unmarked, lives))
    marked = int(rng.binomial(stock.marked, lives))
    kept = int(rng.binomial(marked, world.overwinter_retention))
    young = world.recruits * lake.area_ha * (world.young_eaten_effect if lake.young_eaten else 1.0)
    shape = world.recruit_variation**-2
    recruits = int(rng.poisson(rng.gamma(shape, young / shape)))
    arrivals = survival * exchanged * world.outside_density * lake.area_ha
    return Stock(
        unmarked=unmarked + marked - kept + recruits + int(rng.poisson(arrivals)), marked=kept
    )
