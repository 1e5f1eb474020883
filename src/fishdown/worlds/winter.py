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

    A year's survival varies, and marked fish share its luck with the others.
    """
    luck = float(rng.lognormal(-0.5 * world.process_error**2, world.process_error))
    exchanged = world.exchange if lake.connected else 0.0
    lives = min(world.survival * luck, 1.0) * (1.0 - exchanged)
    unmarked = int(rng.binomial(stock.unmarked, lives))
    marked = int(rng.binomial(stock.marked, lives))
    kept = int(rng.binomial(marked, world.overwinter_retention))
    young = world.recruits * lake.area_ha * (world.young_eaten_effect if lake.young_eaten else 1.0)
    shape = world.recruit_variation**-2
    recruits = int(rng.poisson(rng.gamma(shape, young / shape)))
    arrivals = world.survival * exchanged * world.outside_density * lake.area_ha
    return Stock(
        unmarked=unmarked + marked - kept + recruits + int(rng.poisson(arrivals)), marked=kept
    )
