"""What fish of an invented lake weigh while it is netted, and which of them the crew measures."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from fishdown.worlds.truth import LakeTruth, World

# However large the fish that were taken, the others weigh something.
_LIGHTEST = 0.1


class Weights:
    """Mean weight of the fish in a lake, followed from catch to catch.

    Fish grow; nets take a catch of its own mean weight, and what it weighed is gone.
    """

    def __init__(
        self, world: World, lake: LakeTruth, first_day: dt.date, rng: np.random.Generator
    ) -> None:
        self._world, self._lake, self._first_day = world, lake, first_day
        # Of its own where it is needed, so that what else is drawn does not depend on it.
        self._schools = rng.spawn(1)[0] if world.weight_pull_spread else None
        self._taken = 1.0
        self._today = first_day
        # Day, net and relative mean weight of the largest catch of each round.
        self._rounds: dict[dt.date, tuple[int, str, float]] = {}

    @property
    def mean(self) -> float:
        """Mean weight of the fish in the lake on the day of the last catch, kg."""
        return self._lake.mean_weight * self._growth(self._today) * self._taken

    def catch(self, day: dt.date, net: str, before: int, caught: int) -> None:
        """Take a catch of so many of the fish that there are."""
        school = self._school()
        self._today = day
        weighs = self._world.net_selectivity * school
        relative = self._growth(day) * self._taken * weighs
        if caught >= self._rounds.get(day, (0, "", 0.0))[0]:
            self._rounds[day] = caught, net, relative
        if caught < before:
            left = (before - caught * weighs) / (before - caught)
            self._taken *= max(left, _LIGHTEST)

    def measured(
        self, marking_day: dt.date, rng: np.random.Generator
    ) -> list[tuple[dt.date, str, float, float]]:
        """Draw day, net, length (mm) and weight (kg, missing if not weighed) of measured fish.

        Some as the crew marks, the others in turn from the largest catch of each round.
        """
        world, lake = self._world, self._lake
        count = world.weighed + world.only_length
        electric = world.electrofishing_selectivity * self._growth(marking_day)
        marking = [(marking_day, "", electric * self._school())]
        rounds = [(day, net, relative) for day, (_, net, relative) in self._rounds.items()]
        at_marking = round(world.weighed_at_marking * count)
        # Every n-th fish, so that weighed fish and others are measured alike.
        when = [
            marking[0]
            if (fish + 1) * at_marking // count > fish * at_marking // count
            else rounds[fish % len(rounds)]
            for fish in range(count)
        ]
        shape = world.weight_variation**-2
        at_length = rng.gamma(shape, lake.mean_weight / shape, count)
        at_length = at_length * np.array([relative for _, _, relative in when])
        # Of its own, so that what else is drawn does not depend on it.
        scatter = rng.spawn(1)[0].normal(0.0, world.length_scatter, count)
        weight = at_length * np.exp(scatter - 0.5 * world.length_scatter**2)
        typical_mm = (1e8 * lake.mean_weight / lake.condition) ** (1.0 / 3.0)
        length = typical_mm * (at_length / lake.mean_weight) ** (1.0 / world.length_exponent)
        order = np.argsort(-length) if world.weigh_the_longest else np.arange(count)
        weight[order[world.weighed :]] = np.nan
        return [(*when[fish][:2], float(length[fish]), float(weight[fish])) for fish in order]

    def _growth(self, day: dt.date) -> float:
        return float(np.exp(self._world.weight_trend * (day - self._first_day).days / 30.0))

    def _school(self) -> float:
        spread = self._world.weight_pull_spread
        if self._schools is None:
            return 1.0
        return float(np.exp(self._schools.normal(-0.5 * spread**2, spread)))
