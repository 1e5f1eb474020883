"""What the studies of the verdict share: campaigns by number, one compiled model, its answers."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from functools import cached_property
from pathlib import Path
from typing import Any

import numpy as np
import xarray as xr
from recovery import draw_world
from reliability import Reliability

import fishdown
from fishdown import Fit
from fishdown.campaign import Campaign
from fishdown.checks.blind_spot import LOST, biomass_if, chance_to_notice, weight_of_marks
from fishdown.checks.catches import catch_by_pull
from fishdown.checks.drop import drop_of_catches
from fishdown.checks.evidence import compare
from fishdown.checks.recaptures import total_recaptures
from fishdown.checks.spread import spread_of_catches
from fishdown.models.data import fitting_spec, model_data
from fishdown.models.graph import build
from fishdown.posterior.at_draws import drawn_lakes
from fishdown.posterior.quantities import reported_quantities
from fishdown.posterior.replicates import catches_given_past, replicated_recaptures
from fishdown.posterior.sampling import Sampler, SamplerSettings
from fishdown.results_log import ResultsLog
from fishdown.worlds import World, simulate

SETTINGS = SamplerSettings(draws=750, tune=600, chains=2, cores=1)
LEVELS = (0.50, 0.80, 0.90, 0.95)
THRESHOLD = 100.0

type Change = Callable[[World], World]
type Miscount = Callable[[Campaign, np.random.Generator], Campaign]


class OneLake:
    """A model, that of one lake by default, compiled once, and fed with campaign after campaign."""

    def __init__(self, campaign: Campaign, model: fishdown.ModelSpec | None = None) -> None:
        self.spec, _ = fitting_spec(campaign, model or fishdown.read_model("one_lake"))
        self.by_catches = self.spec.with_parts(evidence="depletion", weights="none")
        self._first = campaign
        self.joint = self._compiled(self.spec, campaign)

    @cached_property
    def alone(self) -> Sampler:
        """The catches alone."""
        return self._compiled(self.by_catches, self._first)

    def answers(self, campaign: Campaign, seed: int) -> dict[str, Any]:
        """Return P(below), quantiles of abundance and biomass, and divergences."""
        tree = self._fed(campaign).sample(replace(SETTINGS, seed=seed))
        self._posterior = tree["posterior"].to_dataset()
        drawn = reported_quantities(self._posterior, campaign, self.spec)
        after = drawn["biomass_after"].values.ravel()
        probability = np.clip((after < THRESHOLD).mean(), 0.5 / len(after), 1.0 - 0.5 / len(after))
        self._drawn = drawn
        return {
            "below": float(probability),
            "biomass_after": limits(after),
            "abundance_before": limits(drawn["abundance_before"].values.ravel()),
            "divergences": int(tree["sample_stats/diverging"].values.sum()),
        }

    def fit(self, campaign: Campaign, settings: SamplerSettings) -> Fit:
        """Return one attempt as the fit that statements and decisions are made from."""
        tree = self._fed(campaign).sample(settings)
        posterior = tree["posterior"].to_dataset()
        groups = {
            "posterior": posterior,
            "quantities": reported_quantities(posterior, campaign, self.spec),
            "sample_stats": tree["sample_stats"].to_dataset(),
        }
        return Fit(campaign, self.spec, xr.DataTree.from_dict(groups), {})

    def evidence(self, campaign: Campaign, seed: int) -> dict[str, Any]:
        """Return what the evidence gate makes of marks and catches, after `answers`.

        Their tail probability, the chance that it would notice a fifth of the marks lost, and
        limits of biomass after netting were it so.
        """
        data = model_data(campaign, self.by_catches)
        if not self.alone.holds(data):
            self.alone = self._compiled(self.by_catches, campaign)
        self.alone.feed(data)
        tree = self.alone.sample(replace(SETTINGS, seed=seed))
        both = self._drawn["abundance_before"]
        found = compare(campaign, self.spec, both, tree["posterior/abundance"])
        marks, catches = found["abundance"].values[0][:2]
        fewer = (1.0 - LOST) ** weight_of_marks(marks, catches)
        left = biomass_if(self._drawn.isel(season=0), fewer, "after")
        return {
            "tail_probability": float(found["tail_probability"].values[0]),
            "noticed": chance_to_notice(marks, catches),
            "if_lost": limits(left),
        }

    def checks(self, campaign: Campaign, seed: int) -> dict[str, bool]:
        """Return which checks against the records passed, after `answers`."""
        rng = np.random.default_rng(seed)
        lakes = drawn_lakes(self._posterior, campaign, self.spec, most=400)
        drawn = catches_given_past(lakes, rng)
        results = (
            catch_by_pull(campaign, lakes, drawn),
            spread_of_catches(lakes, drawn, rng),
            drop_of_catches(campaign, lakes, rng),
            total_recaptures(campaign, lakes, replicated_recaptures(lakes, rng)),
        )
        return {one.name: one.outcome == "passed" for one in results if one is not None}

    def _fed(self, campaign: Campaign) -> Sampler:
        data = model_data(campaign, self.spec)
        if not self.joint.holds(data):
            self.joint = self._compiled(self.spec, campaign)
        self.joint.feed(data)
        return self.joint

    @staticmethod
    def _compiled(spec: fishdown.ModelSpec, campaign: Campaign) -> Sampler:
        data = model_data(campaign, spec)
        return Sampler(build(spec, data, campaign.coords), "nutpie")


def limits(draws: np.ndarray) -> list[float]:
    """Return the median, then low and high of each level."""
    tails = [tail for level in LEVELS for tail in ((1 - level) / 2, (1 + level) / 2)]
    return [float(value) for value in np.quantile(draws, [0.5, *tails])]


def campaigns(
    log: ResultsLog,
    seed: int,
    count: int,
    change: Change | None = None,
    miscount: Miscount | None = None,
) -> Iterator[tuple[int, Campaign, dict[str, float]]]:
    """Draw the campaigns that the log lacks, each from a seed of its own."""
    for number, child in enumerate(np.random.SeedSequence(seed).spawn(count)):
        if number in log.rows:
            continue
        rng = np.random.default_rng(child)
        world = draw_world(rng, 1)
        campaign, truth = simulate(world if change is None else change(world), rng)
        if miscount is not None:
            campaign = miscount(campaign, rng)
        yield number, campaign, truth.set_index("quantity")["value"].to_dict()


def study_header(seed: int, **more: Any) -> dict[str, Any]:
    return {
        "seed": seed,
        "version": fishdown.__version__,
        "model": fishdown.read_model("one_lake").text,
        "settings": SETTINGS.entry(),
        "threshold_kg_per_ha": THRESHOLD,
        "levels": list(LEVELS),
        **more,
    }


def covered(rows: list[dict[str, Any]], name: str) -> list[tuple[float, float, float]]:
    """Return level, coverage and median width of the intervals of one quantity."""
    answered = [row for row in rows if row.get(name) is not None]
    found = []
    for level in LEVELS:
        low, high = _ends(answered, name, level)
        share = held(answered, name, level).mean()
        found.append((level, float(share), float(np.median(high - low))))
    return found


def held(rows: list[dict[str, Any]], name: str, level: float = 0.9, *, by: str = "") -> np.ndarray:
    """Tell which campaigns' intervals of a quantity hold its truth, shape (campaign,).

    `by` names intervals other than the quantity's own.
    """
    low, high = _ends(rows, by or name, level)
    truth = np.array([row["truth"][name] for row in rows])
    inside: np.ndarray = (low <= truth) & (truth <= high)
    return inside


def _ends(rows: list[dict[str, Any]], name: str, level: float) -> np.ndarray:
    """Return low and high, as `limits` has them, shape (2, campaign)."""
    first = 1 + 2 * LEVELS.index(level)
    ends: np.ndarray = np.array([row[name][first : first + 2] for row in rows]).T
    return ends


def reliability_table(found: Reliability, stated: str) -> list[str]:
    """Lay out the ranges of stated probabilities, and what happened in each."""
    lines = [
        f"| {stated} | campaigns | mean stated | below in truth | band of chance (90 %) |",
        "| --- | ---: | ---: | ---: | ---: |",
    ]
    for row in found.bins.itertuples(index=False):
        lines.append(
            f"| {row[0]:.0%} to {row[1]:.0%} | {row[2]} | {row[3]:.3f} | {row[4]:.3f} "
            f"| {row[5]:.3f}–{row[6]:.3f} |"
        )
    return lines


class Clock:
    """Stops a study after so many minutes; what it has by then is kept."""

    def __init__(self, minutes: float) -> None:
        self._until = time.monotonic() + 60.0 * minutes

    @property
    def over(self) -> bool:
        return time.monotonic() > self._until


def kept_in(name: str) -> Path:
    return Path(__file__).parent / "kept" / name
