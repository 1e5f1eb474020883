"""How often marks and catches disagree, with and without a cause.

    python benchmarks/evidence.py --campaigns 300
    python benchmarks/evidence.py --campaigns 30 --lakes 10
    python benchmarks/evidence.py --campaigns 20 --lakes 3 --worlds 2 --model lost_marks

One lake a campaign, or several that are pooled. The first line is the calibration: without a
cause, a tail probability below p should arise in at most a share p of seasons. The other lines are
worlds that the model does not assume, one fault each. Results are kept in RESULTS.md.
"""

from __future__ import annotations

import argparse
import time
from dataclasses import replace

import numpy as np
from recovery import draw_world

import fishdown
from fishdown.checks.evidence import catches_alone, compare
from fishdown.models.data import fitting_spec, model_data
from fishdown.models.graph import build
from fishdown.posterior.sampling import Sampler, SamplerSettings
from fishdown.worlds import World, simulate

FAULTS: dict[str, dict[str, float]] = {
    "no cause": {},
    "a third of the marks lost": {"marks_lost": 1 / 3},
    "a fifth of the fish not vulnerable": {"not_vulnerable": 0.2},
    "half of the fish not vulnerable": {"not_vulnerable": 0.5},
    "marked fish half as easy to catch": {"marked_hazard": 0.5},
    "marked fish twice as easy to catch": {"marked_hazard": 2.0},
    "a third of the fish leave midway": {"fish_leaving": 1 / 3},
}
LIMITS = (0.01, 0.05, 0.10, 0.25)


def tail_probabilities(
    fault: dict[str, float], campaigns: int, lakes: int, seed: int, model: str
) -> np.ndarray:
    """Draw campaigns with a fault and return the tail probability of every lake."""
    found = []
    sampler = None
    settings = SamplerSettings(chains=2, draws=1000)
    for number, child in enumerate(np.random.SeedSequence(seed).spawn(campaigns)):
        rng = np.random.default_rng(child)
        world: World = replace(draw_world(rng, lakes), **fault)
        campaign, _ = simulate(world, rng)
        spec, _ = fitting_spec(campaign, fishdown.read_model(model))
        by_catches = catches_alone(spec)
        data = model_data(campaign, by_catches)
        if sampler is None or not sampler.holds(data):
            sampler = Sampler(build(by_catches, data, campaign.coords), "nutpie")
        sampler.feed(data)
        drawn = sampler.sample(replace(settings, seed=number))["posterior/abundance"]
        found += compare(campaign, spec, drawn, drawn)["tail_probability"].values.tolist()
    return np.array(found)


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawTextHelpFormatter
    )
    parser.add_argument("--campaigns", type=int, default=300)
    parser.add_argument("--lakes", type=int, default=1)
    parser.add_argument("--worlds", type=int, default=len(FAULTS), help="the first so many")
    parser.add_argument("--seed", type=int, default=7)
    parser.add_argument("--model", help="one_lake for one lake, pooled_lakes for several")
    options = parser.parse_args()
    model = options.model or ("one_lake" if options.lakes == 1 else "pooled_lakes")
    print("| world | " + " | ".join(f"below {limit:g}" for limit in LIMITS) + " |")
    print("| --- |" + " ---: |" * len(LIMITS))
    for name, fault in list(FAULTS.items())[: options.worlds]:
        started = time.perf_counter()
        found = tail_probabilities(fault, options.campaigns, options.lakes, options.seed, model)
        shares = " | ".join(f"{np.mean(found < limit):.3f}" for limit in LIMITS)
        print(f"| {name} | {shares} |  ({time.perf_counter() - started:.0f} s)", flush=True)


if __name__ == "__main__":
    main()
