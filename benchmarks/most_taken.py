"""Whether intervals hold in lakes of which the nets take most of the fish.

    python benchmarks/most_taken.py --campaigns 60

Lakes as `fishdown plan` draws them (`decisions/plan_worlds.py`; simulated by `fishdown.worlds`, no
code in common with the densities of models), 200 fish marked, four nets pulled on twenty days:
about nine tenths of the fish are taken. Fitted by `one_lake`. Once as drawn, with all that goes
wrong in them; once with nothing wrong but that marks are lost and marked fish die. Results are kept
in MESSY.md.
"""

from __future__ import annotations

import argparse
from dataclasses import replace

import numpy as np
from plan_promise import SETTINGS, asked

from fishdown.decisions.plan_campaign import Job, sampled
from fishdown.decisions.plan_design import Candidate, Plan
from fishdown.decisions.plan_worlds import draw_world
from fishdown.intervals import low_median_high
from fishdown.worlds import World, simulate

SEED = 777
MARKED, ROUNDS = 200, 20
LOST = ("clip_retention", "post_release_survival")


def world_of(kind: str, plan: Plan, design: Candidate, number: int) -> World:
    """Draw a lake of one kind; all kinds have the same fish."""
    seed = np.random.SeedSequence(SEED, spawn_key=(number, 0))
    messy = draw_world(plan, design, np.random.default_rng(seed))
    if kind == "all that goes wrong":
        return messy
    plain = draw_world(replace(plan, worlds="plain"), design, np.random.default_rng(seed))
    return replace(plain, **{name: getattr(messy, name) for name in LOST})


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawTextHelpFormatter
    )
    parser.add_argument("--campaigns", type=int, default=60)
    options = parser.parse_args()
    plan = replace(asked(), seed=SEED)
    job = Job(plan, SETTINGS)
    place, design = next(
        (number, one)
        for number, one in enumerate(plan.candidates)
        if (one.marked, one.penned, one.rounds) == (MARKED, 0, ROUNDS)
    )
    print("| lakes | campaigns | fish taken | 90 % hold abundance | median error | half-width |")
    print("| --- | ---: | ---: | ---: | ---: | ---: |")
    for kind in ("all that goes wrong", "marks lost or dead, nothing else"):
        rows = []
        for number in range(options.campaigns):
            seed = np.random.SeedSequence(SEED, spawn_key=(number, 1))
            world = world_of(kind, plan, design, number)
            campaign, truth = simulate(world, np.random.default_rng(seed))
            known = truth.set_index("quantity")["value"]
            fish, _ = sampled(job, place, campaign, number)
            low, median, high = low_median_high(fish)
            N, left = known["abundance_before"], known["abundance_after"]
            rows.append(
                (low <= N <= high, median / N - 1.0, 0.5 * (high - low) / median, 1.0 - left / N)
            )
        held, off, width, taken = np.array(rows, dtype=float).T
        print(
            f"| {kind} | {len(rows)} | {np.median(taken):.0%} | {held.mean():.0%} "
            f"| {np.median(off):+.1%} | {np.median(width):.1%} |",
            flush=True,
        )


if __name__ == "__main__":
    main()
