"""One simulated campaign of a plan: a lake netted by a design, and its refit."""

from __future__ import annotations

import sys
from dataclasses import asdict, dataclass, replace
from functools import partial
from threading import Lock
from typing import TYPE_CHECKING, Any

import numpy as np

from fishdown.intervals import low_median_high
from fishdown.statements.probability import probability_below

if TYPE_CHECKING:
    from collections.abc import Callable

    import pandas as pd

    from fishdown.campaign import Campaign
    from fishdown.decisions.plan_design import Candidate, Plan
    from fishdown.posterior.sampling import SamplerSettings
    from fishdown.typing import FloatArray

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
        """Draw a campaign, the same whoever does it and when.

        All designs share its truth and its random numbers; two with as many nets and rounds, of
        which one has more evidence on as many marks, have the same catches.

        Returns
        -------
        campaign : Campaign
        truth : pandas.DataFrame
            quantity, value.
        seed : int
            For its fit.
        """
        return self._simulated(simulation, self.plan.candidates[candidate])

    def first_like(self, candidate: int) -> Campaign:
        """Draw a campaign with as much of everything as any design with the same evidence has."""
        evidence = self.evidence(candidate)
        alike = [
            asdict(design)
            for place, design in enumerate(self.plan.candidates)
            if self.evidence(place) == evidence
        ]
        most = {name: max(design[name] for design in alike) for name in alike[0]}
        return self._simulated(0, replace(self.plan.candidates[candidate], **most))[0]

    def evidence(self, candidate: int) -> tuple[bool, bool]:
        """Return whether a design has an antenna and another gear: a graph of its own for each."""
        design = self.plan.candidates[candidate]
        return design.antenna_nights > 0, design.surveyed > 0

    def _simulated(self, simulation: int, design: Candidate) -> tuple[Campaign, pd.DataFrame, int]:
        from fishdown.decisions.plan_worlds import draw_world
        from fishdown.worlds import simulate

        plan = self.plan
        # Children that `SeedSequence(seed).spawn` and their own `spawn` would give.
        of_truth, of_season = (
            np.random.SeedSequence(plan.seed, spawn_key=(simulation, child)) for child in (0, 1)
        )
        world = draw_world(plan, design, np.random.default_rng(of_truth))
        campaign, truth = simulate(world, np.random.default_rng(of_season))
        return campaign, truth, int(of_season.generate_state(1)[0] >> 1)


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
        1 if the chains agree (R-hat of abundance at most 1.05), after a second attempt if need
        be, else 0.
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
    simulation, candidate = task
    campaign, truth, seed = job.campaign(simulation, candidate)
    known = truth.set_index("quantity")["value"]
    refit = job.refit or partial(sampled, job, candidate)
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
        settled=int(settled(fish)),
    )


class _Workshop:
    """A model compiled once, wherever this runs, and fed with one campaign after another."""

    def __init__(self, job: Job, candidate: int) -> None:
        from fishdown.models.data import fitting_spec, model_data
        from fishdown.models.graph import build
        from fishdown.models.spec import read_model
        from fishdown.posterior.sampling import Sampler

        # Chains start from a place that the graph keeps of its first campaign: the same for all, or
        # draws would depend on who was given which. It has room for the nets and nights of each.
        first = job.first_like(candidate)
        # In all campaigns of a plan fish are weighed and temperatures read: one model fits all
        # that have an antenna and another gear alike.
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


_workshops: dict[tuple[str, tuple[bool, bool]], _Workshop] = {}


def sampled(
    job: Job, candidate: int, campaign: Campaign, seed: int
) -> tuple[FloatArray, FloatArray]:
    """Refit a campaign; once more with more draws if the chains do not agree, as a crew would."""
    key = job.plan.fingerprint(), job.evidence(candidate)
    with _ONE_AT_A_TIME:
        if key not in _workshops:
            # Those of a plan before are not needed any more.
            for other in [other for other in _workshops if other[0] != key[0]]:
                del _workshops[other]
            _workshops[key] = _Workshop(job, candidate)
        # One core: the others have campaigns of their own.
        settings = replace(job.settings, seed=seed, cores=1)
        drawn = _workshops[key].refit(campaign, settings)
        return drawn if settled(drawn[0]) else _workshops[key].refit(campaign, settings.harder())


def settled(draws: FloatArray) -> bool:
    """Return whether chains agree, draws of shape (chain, draw)."""
    from arviz_stats.base import array_stats

    return bool(float(array_stats.rhat(draws)) <= LARGEST_RHAT)
