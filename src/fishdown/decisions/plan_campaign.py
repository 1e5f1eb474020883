"""One simulated campaign of a plan: draw a lake, net it by a design, refit it."""

from __future__ import annotations

import sys
from dataclasses import asdict, dataclass, replace
from functools import partial
from threading import Lock
from typing import TYPE_CHECKING, Any

import numpy as np

from fishdown.intervals import low_median_high, normal_sd
from fishdown.statements.probability import probability_below

if TYPE_CHECKING:
    from collections.abc import Callable

    import pandas as pd

    from fishdown.campaign import Campaign
    from fishdown.decisions.plan_file import Candidate, Guess, Plan
    from fishdown.posterior.sampling import SamplerSettings
    from fishdown.typing import FloatArray
    from fishdown.worlds import World

    # Takes a campaign and a seed; returns draws (chain, draw) of fish before and of kg/ha after.
    type Refit = Callable[[Campaign, int], tuple[FloatArray, FloatArray]]

MODEL = "one_lake"
LARGEST_RHAT = 1.05
# A compiled model holds one campaign, and the workers of a cluster may be threads of one process.
_ONE_AT_A_TIME = Lock()


@dataclass(frozen=True)
class Job:
    """What a worker needs to know; small, and the same for all campaigns of a plan.

    Attributes
    ----------
    plan : Plan
    settings : SamplerSettings
    refit : callable, optional
        In place of sampling.
    """

    plan: Plan
    settings: SamplerSettings
    refit: Refit | None = None

    def campaign(self, simulation: int, candidate: int) -> tuple[Campaign, pd.DataFrame, int]:
        """Draw a campaign, the same whoever does it and when; all designs share its truth.

        Returns
        -------
        campaign : Campaign
        truth : pandas.DataFrame
            quantity, value.
        seed : int
            For its fit.
        """
        return self._simulated(simulation, candidate, self.plan.candidates[candidate])

    def largest(self) -> Campaign:
        """Draw a campaign with as many nets and days of netting as any design has."""
        designs = [asdict(one) for one in self.plan.candidates]
        most = {name: max(one[name] for one in designs) for name in designs[0]}
        return self._simulated(0, 0, replace(self.plan.candidates[0], **most))[0]

    def _simulated(
        self, simulation: int, candidate: int, design: Candidate
    ) -> tuple[Campaign, pd.DataFrame, int]:
        from fishdown.worlds import simulate

        plan = self.plan
        # Children that `SeedSequence(seed).spawn` and their own `spawn` would give.
        of_truth, of_design = (
            np.random.SeedSequence(plan.seed, spawn_key=(simulation, child))
            for child in (0, 1 + candidate)
        )
        world = draw_world(plan, design, np.random.default_rng(of_truth))
        campaign, truth = simulate(world, np.random.default_rng(of_design))
        return campaign, truth, int(of_design.generate_state(1)[0] >> 1)


@dataclass(frozen=True)
class Run:
    """One simulated campaign of one design, and what its fit made of it.

    Attributes
    ----------
    candidate, simulation : int
        Positions, from 0.
    fish : float
        True fish before netting.
    median, low, high : float
        Abundance by the fit, fish, with its 90 % interval.
    biomass_after : float
        True kg/ha after netting.
    probability_below : float
        By the fit.
    settled : int
        1 if the chains agree (R-hat of abundance at most 1.05), else 0.
    """

    candidate: int
    simulation: int
    fish: float
    median: float
    low: float
    high: float
    biomass_after: float
    probability_below: float
    settled: int


# What a row of the results log holds beside its number, and the most each can be.
_LARGEST = dict.fromkeys(("fish", "median", "low", "high", "biomass_after"), sys.float_info.max) | {
    "probability_below": 1.0,
    "settled": 1.0,
}


def campaign_row(job: Job, task: tuple[int, int]) -> dict[str, float]:
    """Simulate one campaign and refit it: a row of the results log, its task being the number."""
    run = asdict(campaign_run(job, task))
    return {name: run[name] for name in _LARGEST}


def wrong_row(row: dict[str, Any]) -> str:
    """Return why a row cannot be of a simulated campaign; else nothing."""
    if row.keys() != _LARGEST.keys():
        return f"holds {', '.join(row) or 'nothing'} in place of {', '.join(_LARGEST)}"
    for name, most in _LARGEST.items():
        value = row[name]
        if isinstance(value, bool) or not isinstance(value, int | float):
            return f"{name} = {value!r} is no number"
        if not 0.0 <= value <= most:
            return f"{name} = {value} cannot be"
    in_order = row["low"] <= row["median"] <= row["high"]
    return "" if in_order else "low, median and high are not in order"


def campaign_run(job: Job, task: tuple[int, int]) -> Run:
    """Simulate one campaign and refit it.

    Parameters
    ----------
    task : (int, int)
        Which simulation, and of which candidate.
    """
    from arviz_stats.base import array_stats

    simulation, candidate = task
    campaign, truth, seed = job.campaign(simulation, candidate)
    known = truth.set_index("quantity")["value"]
    refit = job.refit or partial(_sampled, job)
    fish, biomass = refit(campaign, seed)
    low, median, high = low_median_high(fish)
    return Run(
        candidate=candidate,
        simulation=simulation,
        fish=float(known["abundance_before"]),
        median=float(median),
        low=float(low),
        high=float(high),
        biomass_after=float(known["biomass_after"]),
        probability_below=probability_below(biomass, job.plan.threshold_kg_per_ha)[0],
        settled=int(float(array_stats.rhat(fish)) <= LARGEST_RHAT),
    )


def draw_world(plan: Plan, design: Candidate, rng: np.random.Generator) -> World:
    """Draw a lake from what the plan supposes, and net it by a design."""
    from fishdown.worlds import LakeTruth, World

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
    )
    return World(
        lakes=(lake,),
        marked=design.marked,
        nets=design.nets,
        rounds=design.rounds,
        days_between=plan.days_between,
        first_day=plan.first_day,
        schooling=schooling,
        temperatures=plan.temperatures,
        weighed=plan.weighed,
    )


def _drawn(guess: Guess, rng: np.random.Generator) -> float:
    """Draw a log-normal number whose 90 % interval is the guess."""
    low, high = np.log(guess)
    return float(np.exp(0.5 * (low + high) + normal_sd(low, high) * rng.standard_normal()))


class _Workshop:
    """A model compiled once, wherever this runs, and fed with one campaign after another."""

    def __init__(self, job: Job) -> None:
        from fishdown.models.data import fitting_spec, model_data
        from fishdown.models.graph import build
        from fishdown.models.spec import read_model
        from fishdown.posterior.sampling import Sampler

        # Chains start from a place that the graph keeps of its first campaign: the same for all, or
        # draws would depend on who was given which. It has room for the nets and nights of each.
        first = job.largest()
        # In all campaigns of a plan fish are weighed and temperatures read: one model fits all.
        self._spec, _ = fitting_spec(first, read_model(MODEL))
        graph = build(self._spec, model_data(first, self._spec), first.coords)
        self._sampler = Sampler(graph, "nutpie")

    def refit(self, campaign: Campaign, settings: SamplerSettings) -> tuple[FloatArray, FloatArray]:
        from fishdown.models.data import model_data
        from fishdown.posterior.quantities import reported_quantities

        self._sampler.feed(model_data(campaign, self._spec))
        posterior = self._sampler.sample(settings)["posterior"].to_dataset()
        found = reported_quantities(posterior, campaign, self._spec)
        fish, biomass = (
            found[name].isel(season=0).values for name in ("abundance_before", "biomass_after")
        )
        return fish, biomass


_workshops: dict[str, _Workshop] = {}


def _sampled(job: Job, campaign: Campaign, seed: int) -> tuple[FloatArray, FloatArray]:
    key = job.plan.fingerprint()
    with _ONE_AT_A_TIME:
        if key not in _workshops:
            _workshops.clear()
            _workshops[key] = _Workshop(job)
        # One core: the others have campaigns of their own.
        return _workshops[key].refit(campaign, replace(job.settings, seed=seed, cores=1))
