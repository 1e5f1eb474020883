"""Seasons that are known to their end, shown as far as a crew has come; what they hold after that.

What `forecasts.py` and `stopping.py` share. Cutting takes rows from the tables and makes a campaign
of what is left, so that all it derives (fish gone, marks left, last day) follows by itself.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from recovery import draw_world

from fishdown.campaign import Campaign, from_records
from fishdown.decisions.schedule import Schedule
from fishdown.worlds import World, simulate, simulate_records

if TYPE_CHECKING:
    from fishdown.records import Records
    from fishdown.results_log import ResultsLog

type Change = Callable[[World, np.random.Generator], World]


@dataclass(frozen=True)
class Season:
    """One lake's season, known to its end.

    Attributes
    ----------
    world : World
    records : Records
        Of the whole season.
    caught : ndarray, shape (pull,)
        Fish.
    fish : ndarray, shape (pull + 1,)
        Fish in the lake before netting and after each pull.
    """

    world: World
    records: Records
    caught: np.ndarray
    fish: np.ndarray

    @property
    def kilograms(self) -> np.ndarray:
        """Taken out by each pull, kg, shape (pull,)."""
        return self.caught * self.world.lakes[0].mean_weight

    @property
    def biomass(self) -> np.ndarray:
        """Before netting and after each pull, kg/ha, shape (pull + 1,)."""
        lake = self.world.lakes[0]
        return self.fish * lake.mean_weight / lake.area_ha

    def until(self, pulls: int) -> Campaign:
        """Return the campaign as it stands after so many pulls; whole rounds only."""
        table = self.records.pulls
        if pulls % self.world.nets or not 0 < pulls <= len(table):
            raise ValueError(f"{pulls} pulls are no whole rounds of {self.world.nets} nets")
        last = table["date"].iloc[pulls - 1]
        seen = self.records.recaptures
        return from_records(
            replace(
                self.records,
                pulls=table[table["date"] <= last],
                recaptures=seen[seen["date"] <= last] if len(seen) else seen,
            )
        )

    def to_come(self, pulls: int, *, temperatures: bool) -> Schedule:
        """Return the pulls after the first so many, in the water they met or in unknown water."""
        rest = self.records.pulls.iloc[pulls:]
        celsius = rest["water_temp_c"].to_numpy(dtype=float)
        return Schedule(
            date=rest["date"].to_numpy(dtype="datetime64[D]"),
            net=tuple(rest["net"]),
            temperature=celsius if temperatures else np.full(len(rest), np.nan),
        )


def draw_season(world: World, rng: np.random.Generator) -> Season:
    """Net one lake to the end of the season."""
    records, truth = simulate_records(world, rng)
    known = truth.set_index("quantity")["value"]
    caught = records.pulls["caught"].to_numpy(dtype=float)
    fish = known["abundance_before"] - np.concatenate([[0.0], np.cumsum(caught)])
    assert fish[-1] == known["abundance_after"]
    return Season(world, records, caught, fish)


def seasons(
    log: ResultsLog, seed: int, count: int, change: Change | None = None
) -> Iterator[tuple[int, Season]]:
    """Draw the seasons that the log lacks, each from a seed of its own."""
    for number, child in enumerate(np.random.SeedSequence(seed).spawn(count)):
        rng = np.random.default_rng(child)
        if number == 0:
            check_cutting(np.random.default_rng(child))
        if number in log.rows:
            continue
        world = draw_world(rng, 1)
        yield number, draw_season(world if change is None else change(world, rng), rng)


def check_cutting(rng: np.random.Generator) -> None:
    """Hold a season that was cut against one that ended there by itself, drawn from equal seeds."""
    seed = int(rng.integers(2**32))
    world = draw_world(rng, 1)
    rounds = world.rounds // 2
    short, _ = simulate(replace(world, rounds=rounds), np.random.default_rng(seed))
    cut = draw_season(world, np.random.default_rng(seed)).until(rounds * world.nets)
    # The fish of the sample are drawn after the pulls, so they alone may differ.
    for table in ("lakes", "seasons", "pulls", "batches"):
        if not getattr(short, table).identical(getattr(cut, table)):
            raise AssertionError(f"a season that was cut differs from a short one: {table}")
