"""Whether the default model answers campaigns of the shapes that crews have.

    python benchmarks/campaign_shapes.py --campaigns 100 --minutes 60

Five shapes, nets × pulls of each net, one lake and one year; each in a plain world and in a messy
one, where nets differ by 30 % and the first pull of a net is 1.6 times as good as its later ones
(all three common practice, no source). The campaigns are fitted as `fishdown fit` does it: the
model that the records call for, its retries, its gates.

Targets, set before the first run: of 100 campaigns, 90 % intervals of abundance before and of
biomass after netting hold the truth in 85 to 95, and at most 2 are withheld. Every campaign is kept
in `kept/`; a stopped study goes on where it stopped. RESULTS.md has the results.
"""

from __future__ import annotations

import argparse
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from trials import Clock, held, kept_in, limits

import fishdown
from fishdown.campaign import Campaign
from fishdown.checks.evidence import catches_alone, compare
from fishdown.models.data import fitting_spec, model_data
from fishdown.models.graph import build
from fishdown.posterior.attempts import RETRIES
from fishdown.posterior.choice import choose_model
from fishdown.posterior.disagreement import disagreement
from fishdown.posterior.quality import Quality, judge
from fishdown.posterior.quantities import reported_quantities
from fishdown.posterior.sampling import Sampler, SamplerSettings
from fishdown.results_log import ResultsLog
from fishdown.worlds import LakeTruth, World, simulate

SETTINGS = SamplerSettings(cores=2)
SEED = 1427


@dataclass(frozen=True)
class Shape:
    """How many nets are pulled how often, in lakes of which size, and the share that they take."""

    nets: int
    rounds: int
    fish: tuple[float, float]
    taken: tuple[float, float]

    def world(self, rng: np.random.Generator) -> World:
        """Draw a lake and its crew; all ranges are common practice, no source."""
        fish = int(np.exp(rng.uniform(*np.log(self.fish))))
        area = fish / np.exp(rng.uniform(*np.log((40.0, 300.0))))
        pulls = self.nets * self.rounds
        # Water is a few degrees off the reference, so the share taken is only about this one.
        hazard = -np.log1p(-rng.uniform(*self.taken)) / pulls
        return World(
            lakes=(
                LakeTruth(
                    name="Lake 1",
                    area_ha=round(float(area), 1),
                    fish=fish,
                    area_fished_ha=float(hazard * area),
                    mean_weight=float(rng.uniform(1.5, 3.5)),
                ),
            ),
            marked=max(60, round(fish * rng.uniform(0.02, 0.06))),
            nets=self.nets,
            rounds=self.rounds,
            days_between=10.0,
            schooling=float(rng.uniform(0.4, 0.9)),
        )


SHAPES = {
    "3 nets × 1": Shape(3, 1, (3_000, 15_000), (0.2, 0.35)),
    "3 nets × 2": Shape(3, 2, (3_000, 15_000), (0.25, 0.5)),
    "6 nets × 2": Shape(6, 2, (3_000, 30_000), (0.25, 0.5)),
    "5 nets × 4": Shape(5, 4, (3_000, 30_000), (0.25, 0.5)),
    "26 nets × 12": Shape(26, 12, (10_000, 60_000), (0.25, 0.5)),
}
WORLDS: dict[str, dict[str, float]] = {
    "plain": {},
    # A loss that does not fade: later pulls never come back to the first.
    "messy": {"net_spread": 0.3, "rest_loss": 1.0 - 1.0 / 1.6, "rest_recovery": 1e9},
}


class Fitted:
    """The model of a campaign, compiled once and fed with others of the same shape."""

    def __init__(self, campaign: Campaign, model: str | None) -> None:
        self.spec, _ = fitting_spec(campaign, choose_model(campaign, model).spec)
        self.by_catches = catches_alone(self.spec)
        self._joint, self._alone = (
            Sampler(build(spec, model_data(campaign, spec), campaign.coords), "nutpie")
            for spec in (self.spec, self.by_catches)
        )  # fmt: skip

    def answers(self, campaign: Campaign, seed: int) -> dict[str, Any]:
        """Return intervals, and whether and why the verdict would be withheld."""
        drawn, quality, attempts = _sampled(self._joint, self.spec, campaign, seed)
        catches, _, _ = _sampled(self._alone, self.by_catches, campaign, seed)
        found = compare(campaign, self.spec, drawn["abundance_before"], catches["abundance_before"])
        said = disagreement(found, 0)
        return {
            "model": self.spec.name,
            "attempts": attempts,
            "sampler": quality.failure(0),
            "tail_probability": said.tail_probability,
            "conflict": said.conflict,
            **{
                name: limits(drawn[name].values.ravel())
                for name in ("abundance_before", "biomass_after")
            },
        }


def _sampled(sampler: Sampler, spec: fishdown.ModelSpec, campaign: Campaign, seed: int) -> Any:
    sampler.feed(model_data(campaign, spec))
    settings = replace(SETTINGS, seed=seed)
    attempts = 0
    for _ in range(1 + RETRIES):
        attempts += 1
        tree = sampler.sample(settings)
        drawn = reported_quantities(tree["posterior"].to_dataset(), campaign, spec)
        quality: Quality = judge(drawn, tree["sample_stats"].to_dataset())
        if quality.passed:
            break
        settings = settings.harder()
    return drawn, quality, attempts


def row_of(name: str, rows: list[dict[str, Any]]) -> str:
    abundance, biomass = held(rows, "abundance_before"), held(rows, "biomass_after")
    truth = np.array([row["truth"]["abundance_before"] for row in rows])
    median = np.array([row["abundance_before"][0] for row in rows])
    sampler = np.array([bool(row["sampler"]) for row in rows])
    conflict = np.array([row["conflict"] for row in rows])
    return (
        f"| {name} | {', '.join(sorted({row['model'] for row in rows}))} | {len(rows)} "
        f"| {abundance.sum()} | {biomass.sum()} | {np.median(median / truth - 1):+.1%} "
        f"| {(sampler | conflict).sum()} | {conflict.sum()} | {sampler.sum()} |"
    )


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawTextHelpFormatter
    )
    parser.add_argument("--campaigns", type=int, default=100)
    parser.add_argument("--minutes", type=float, default=60.0, help="stop after so many")
    parser.add_argument("--model", help="in place of the one that the records call for")
    parser.add_argument("--shape", choices=SHAPES, help="this shape only")
    options = parser.parse_args()
    clock = Clock(options.minutes)
    print(
        "| shape, world | model | campaigns | abundance held | biomass after held "
        "| error of abundance (median) | withheld | by marks against catches | by the sampler |"
    )
    print("| --- | --- |" + " ---: |" * 7)
    for place, (shape_name, shape) in enumerate(SHAPES.items()):
        if options.shape not in (None, shape_name):
            continue
        fitted: Fitted | None = None
        for world_name, faults in WORLDS.items():
            name = f"{shape_name}, {world_name}"
            kept = f"shape_{place}_{world_name}{'_' + options.model if options.model else ''}.jsonl"
            log = ResultsLog(
                kept_in(kept),
                {"seed": SEED, "case": name, "model": options.model, "settings": SETTINGS.entry()},
            )
            # Both worlds of a shape see the same lakes and crews.
            for number, child in enumerate(np.random.SeedSequence([SEED, place]).spawn(
                options.campaigns
            )):  # fmt: skip
                if number in log.rows or clock.over:
                    continue
                rng = np.random.default_rng(child)
                campaign, truth = simulate(replace(shape.world(rng), **faults), rng)
                fitted = fitted or Fitted(campaign, options.model)
                known = truth.set_index("quantity")["value"].to_dict()
                log.add(number, {**fitted.answers(campaign, number), "truth": known})
            if log.rows:
                print(row_of(name, [log.rows[number] for number in sorted(log.rows)]), flush=True)


if __name__ == "__main__":
    main()
