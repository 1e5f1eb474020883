"""What a part costs that the records do not need: how far it moves the answer.

    python benchmarks/unneeded.py [PART ...] --campaigns 10

Campaigns are drawn from worlds without the part, and fitted with it and without it. Prints, for
each part, by how much the median of the biomass after netting moves (in the middle, and in nine
lakes out of ten), and in how many lakes by less than 5 %. Results are kept in RESULTS.md.
"""

from __future__ import annotations

import argparse
from dataclasses import replace

import numpy as np
from recovery import PARTS, Study, draw_world

import fishdown
from fishdown.worlds import World, simulate

LIMIT = 0.05
# Not needed where cold makes a straight line of the logarithm: held against a model that has one.
CURVES = ("threshold", "smooth")


def plain_world(rng: np.random.Generator, lakes: int, *, cold_matters: bool) -> World:
    """Draw a world in which no part but those of the plainest model is needed."""
    world = draw_world(rng, lakes)
    if cold_matters:
        return world
    return replace(
        world, lakes=tuple(replace(lake, temperature_effect=1.0) for lake in world.lakes)
    )


def moved(name: str, campaigns: int, seed: int) -> np.ndarray:
    """Return the relative shift of the biomass after netting, lake by lake."""
    part = PARTS[name]
    spec = fishdown.read_model(part.model)
    straight = name in CURVES
    plain = fishdown.read_model("pooled_lakes") if straight else spec.with_parts(**part.off)
    studies: dict[str, Study] = {}
    shifts = []
    for number, child in enumerate(np.random.SeedSequence(seed).spawn(campaigns)):
        rng = np.random.default_rng(child)
        cold_matters = straight or "temperature" not in part.off
        world = plain_world(rng, part.lakes, cold_matters=cold_matters)
        campaign, _ = simulate(world, rng)
        if not studies:
            studies = {
                "on": Study(spec.with_parts(**part.on), campaign),
                "off": Study(plain, campaign),
            }
        medians = {
            which: study.fit(campaign, number)[1]["biomass_after"].median(("chain", "draw")).values
            for which, study in studies.items()
        }
        shifts.append(medians["on"] / medians["off"] - 1.0)
    return np.concatenate(shifts)


def main() -> None:
    # In a single year there is nothing to link, and without lengths nothing to weigh by them.
    parts = [
        name for name in PARTS if name not in {"years", "lengths", "large_weighed", "smooth_steep"}
    ]
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawTextHelpFormatter
    )
    parser.add_argument("parts", nargs="*", metavar="PART", help=", ".join(parts))
    parser.add_argument("--campaigns", type=int, default=10)
    parser.add_argument("--seed", type=int, default=3)
    options = parser.parse_args()
    unknown = set(options.parts) - set(parts)
    if unknown:
        parser.error(f"unknown: {', '.join(sorted(unknown))}; known: {', '.join(parts)}")
    print("| part | lakes | biomass moved, median | nine in ten within | lakes under 5 % |")
    print("| --- | ---: | ---: | ---: | ---: |")
    for name in options.parts or parts:
        shifts = moved(name, options.campaigns, options.seed)
        within = np.quantile(np.abs(shifts), 0.9)
        under = np.mean(np.abs(shifts) < LIMIT)
        print(
            f"| {name} | {len(shifts)} | {np.median(shifts):+.3f} | {within:.3f} | {under:.2f} |",
            flush=True,
        )


if __name__ == "__main__":
    main()
