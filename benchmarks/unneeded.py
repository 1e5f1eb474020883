"""What a part costs that the records do not need: how far it moves the answer.

    python benchmarks/unneeded.py [PART ...] --lakes 60

Campaigns are drawn from worlds without the part, and fitted with it and without it. Prints, for
each part, by how much the median of the biomass after netting moves (in the middle, with twice its
standard error, and in nine lakes out of ten), and in how many lakes by less than 5 %. What the crew
does for the part's sake it does here too: a second kind of mark, fish of two marks. Results are
kept in RESULTS.md.
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
# Days of the year and °C of a lake that hardly cools while it is netted.
WARM = ((1, 18.0), (200, 22.0), (365, 18.0))


def without_cold(world: World) -> World:
    """Return the world with lakes in which cold does nothing."""
    lakes = tuple(replace(lake, temperature_effect=1.0) for lake in world.lakes)
    return replace(world, lakes=lakes)


def unneeding(name: str, world: World) -> dict[str, World]:
    """Return the worlds that do not need a part, by what is to be said of them."""
    part = PARTS[name]
    if name in CURVES:
        return {"straight line": world}
    if "temperature" in part.off:
        world = without_cold(world)
        return {"cold does nothing": world, "18–22 °C": replace(world, temperatures=WARM)}
    if "batches" in part.world:
        return {" and ".join(part.world["batches"]): replace(world, batches=part.world["batches"])}
    return {"": world}


def moved(name: str, campaigns: int, seed: int) -> dict[str, np.ndarray]:
    """Return the relative shifts of the biomass after netting, campaign by lake, in each world."""
    part = PARTS[name]
    spec = fishdown.read_model(part.model)
    straight = name in CURVES
    plain = fishdown.read_model("pooled_lakes") if straight else spec.with_parts(**part.off)
    studies: dict[str, Study] = {}
    shifts: dict[str, list[np.ndarray]] = {}
    for number, child in enumerate(np.random.SeedSequence(seed).spawn(campaigns)):
        rng = np.random.default_rng(child)
        for told, world in unneeding(name, draw_world(rng, part.lakes)).items():
            campaign, _ = simulate(world, rng)
            if not studies:
                studies = {
                    "on": Study(spec.with_parts(**part.on), campaign),
                    "off": Study(plain, campaign),
                }
            medians = {
                which: study.fit(campaign, number)[1]["biomass_after"].median(("chain", "draw"))
                for which, study in studies.items()
            }
            shifts.setdefault(told, []).append((medians["on"] / medians["off"]).values - 1.0)
    return {told: np.stack(found) for told, found in shifts.items()}


def row(name: str, told: str, shifts: np.ndarray, seed: int) -> str:
    """Return one line of the table; the error of the median by resampling campaigns."""
    resampled = np.random.default_rng(seed).choice(shifts, (2_000, len(shifts)))
    error = np.median(resampled, axis=(1, 2)).std()
    within = np.quantile(np.abs(shifts), 0.9)
    under = np.mean(np.abs(shifts) < LIMIT)
    title = f"{name}, {told}" if told else name
    return (
        f"| {title} | {shifts.size} | {np.median(shifts):+.3f} ± {2 * error:.3f} | {within:.3f} "
        f"| {under:.2f} |"
    )


def main() -> None:
    # In a single year there is nothing to link, and without lengths nothing to weigh by them.
    parts = [
        name for name in PARTS if name not in {"years", "lengths", "large_weighed", "smooth_steep"}
    ]
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawTextHelpFormatter
    )
    parser.add_argument("parts", nargs="*", metavar="PART", help=", ".join(parts))
    parser.add_argument("--lakes", type=int, default=60)
    parser.add_argument("--seed", type=int, default=3)
    options = parser.parse_args()
    unknown = set(options.parts) - set(parts)
    if unknown:
        parser.error(f"unknown: {', '.join(sorted(unknown))}; known: {', '.join(parts)}")
    print("| part | lakes | biomass moved, median | nine in ten within | lakes under 5 % |")
    print("| --- | ---: | ---: | ---: | ---: |")
    for name in options.parts or parts:
        campaigns = -(-options.lakes // PARTS[name].lakes)
        for told, shifts in moved(name, campaigns, options.seed).items():
            print(row(name, told, shifts, options.seed), flush=True)


if __name__ == "__main__":
    main()
