"""Whether large campaigns of several years pass the gate at default settings.

    python benchmarks/large.py [one_lake] [twelve_lakes]

Four years of one lake with 300 pulls a year, and three years of twelve lakes, fitted by
`many_years`; prints one row of the table in RESULTS.md for each.
"""

from __future__ import annotations

import argparse
from dataclasses import replace

import numpy as np
from recovery import draw_world

import fishdown
from fishdown.worlds import LakeTruth, World, simulate


def one_lake(rng: np.random.Generator) -> World:
    """Four years, 300 pulls a year."""
    del rng
    lake = LakeTruth("Lake 1", 240.0, 24_000, area_fished_ha=0.5)
    return World(lakes=(lake,), years=4, nets=12, rounds=25, days_between=5.0, season_spread=0.2)


def twelve_lakes(rng: np.random.Generator) -> World:
    """Three years, 40 pulls a lake and year."""
    return replace(draw_world(rng, 12), years=3, rounds=10, season_spread=0.2)


WORLDS = {"one_lake": one_lake, "twelve_lakes": twelve_lakes}


def row(name: str, seed: int) -> str:
    """Simulate, fit with default settings and say how it went."""
    rng = np.random.default_rng(seed)
    campaign, truth = simulate(WORLDS[name](rng), rng)
    fit = fishdown.fit(campaign, "many_years", compare_evidence=False)
    known = truth[truth["quantity"] == "abundance_before"]["value"].to_numpy()
    low, high = np.quantile(fit.quantities["abundance_before"].values, (0.05, 0.95), axis=(0, 1))
    inside = int(((low <= known) & (known <= high)).sum())
    attempts = fit.run["attempts"]
    last = attempts[-1]
    return (
        f"| {name} | {campaign.pulls.sizes['pull']:,} | {len(attempts)} | {last['divergences']} "
        f"| {last['largest_rhat']:.3f} | {last['smallest_ess_bulk']:.0f} "
        f"| {inside} of {len(known)} | {fit.run['sample_seconds']:.0f} |"
    )


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawTextHelpFormatter
    )
    parser.add_argument("worlds", nargs="*", metavar="WORLD", help=", ".join(WORLDS))
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    unknown = set(options.worlds) - set(WORLDS)
    if unknown:
        parser.error(f"unknown: {', '.join(sorted(unknown))}; known: {', '.join(WORLDS)}")
    print(
        "| campaign | pulls | attempts | divergences | largest R-hat | smallest ESS "
        "| abundances inside | sampling, s |"
    )
    print("| --- | ---: | ---: | ---: | ---: | ---: | ---: | ---: |")
    for name in options.worlds or WORLDS:
        print(row(name, options.seed), flush=True)


if __name__ == "__main__":
    main()
