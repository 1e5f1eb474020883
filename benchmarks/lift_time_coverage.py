"""Whether the intervals of `fishdown lift-time` hold the truth, in simulated nights.

    python benchmarks/lift_time_coverage.py [replicates]

Sixty tagged fish; each night a share of them visits the net that varies from night to night by a
log-normal factor (log sd 0.5); the school arrives about a time that moves by 0.75 h from night to
night, each fish 1.5 h about it, and stays for a gamma time of mean 1.5 h. A second world is harder:
factors of log sd 1 and arrivals that move by 1.5 h. Truth: the mean over 20,000 nights. Counted is
how often 90 % intervals hold the expected number at 22:00, 23:30 and 01:00, and the loss of lifting
at 22:00 or 01:00 rather than at 23:30. Target, written down before the first run: 85 % or more of
them with ten nights or more, 80 % with four. Seed 20261.
"""

from __future__ import annotations

import sys

import numpy as np

from fishdown.decisions.lift_curve import fit_curve
from fishdown.decisions.lift_presence import SLOTS, Presence

TAGS, SEED, MIDDLE = 60, 20261, 23.25
WORLDS = {"usual": (0.5, 0.75), "harder": (1.0, 1.5)}
NIGHTS = (4, 10, 30)
HOURS = (22.0, 23.5, 25.0)
PLACES = [round((hour - 12.0) * 2.0) for hour in HOURS]


def nights_of(count: int, world: str, rng: np.random.Generator) -> np.ndarray:
    """Draw counts by night and half hour."""
    factor_sd, moved = WORLDS[world]
    factor = rng.lognormal(-0.5 * factor_sd**2, factor_sd, count)
    comes = rng.random((count, TAGS)) < np.minimum(0.3 * factor, 1.0)[:, None]
    school = MIDDLE + rng.normal(0.0, moved, count)
    arrives = school[:, None] + rng.normal(0.0, 1.5, (count, TAGS)) - 0.75
    leaves = arrives + rng.gamma(2.0, 0.75, (count, TAGS))
    slots = 12.0 + np.arange(SLOTS) / 2.0
    there = (arrives[..., None] <= slots + 0.25) & (leaves[..., None] >= slots - 0.25)
    return (there & comes[..., None]).sum(axis=1).astype(float)


def seen_in(counts: np.ndarray) -> Presence:
    """Return counts as the presence at one net."""
    count = len(counts)
    return Presence(
        lake="Alder",
        nets=("N1",),
        net=np.zeros(count, dtype=np.int64),
        night=np.datetime64("2025-06-01") + np.arange(count),
        counts=counts,
        listening=np.ones(counts.shape, dtype=bool),
        at_large=np.full(count, float(TAGS)),
        temperature=np.full(count, np.nan),
        bait_days=np.full(count, np.nan),
        tags=TAGS,
        listed=True,
    )


def main() -> None:
    """Print the share of intervals that hold the truth."""
    replicates = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    for number, world in enumerate(WORLDS):
        rng = np.random.default_rng([SEED, number])
        truth = sum(nights_of(1_000, world, rng).mean(axis=0) for _ in range(20)) / 20
        for nights in NIGHTS:
            held = np.zeros((replicates, 5))
            width = np.zeros(replicates)
            for one in range(replicates):
                drawn = fit_curve(seen_in(nights_of(nights, world, rng)), 2_000, rng).drawn[:, 0]
                low, high = np.quantile(drawn[:, PLACES], [0.05, 0.95], axis=0)
                held[one, :3] = (low <= truth[PLACES]) & (truth[PLACES] <= high)
                width[one] = (high - low)[1] / truth[PLACES[1]]
                for place, other in enumerate((PLACES[0], PLACES[2])):
                    ends = np.quantile(drawn[:, other] / drawn[:, PLACES[1]], [0.05, 0.95])
                    ratio = truth[other] / truth[PLACES[1]]
                    held[one, 3 + place] = ends[0] <= ratio <= ends[1]
            shares = " ".join(f"{100.0 * share:3.0f}" for share in held.mean(axis=0))
            print(f"{world:7} {nights:3} nights: {shares} %; width / truth {np.median(width):.2f}")


if __name__ == "__main__":
    main()
