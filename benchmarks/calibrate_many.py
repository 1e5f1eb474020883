"""Calibration of the shipped models by simulation, one model after the other.

    python benchmarks/calibrate_many.py one_lake pooled_lakes --seed 21 --cores 16
    python benchmarks/calibrate_many.py one_lake pooled_lakes --seed 21 --many

With `--many` all simulations of a model are sampled at once, on a graphics processor.
CALIBRATION.md has the results; every simulation is kept in `kept/`.
"""

from __future__ import annotations

import argparse
import os
import time
from dataclasses import replace

from trials import SETTINGS, kept_in

import fishdown
from fishdown.posterior.sampling import SamplerSettings

MANY = SamplerSettings(draws=500, tune=500, sampler="numpyro")


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawTextHelpFormatter
    )
    parser.add_argument("models", nargs="+")
    parser.add_argument("--simulations", type=int, default=200)
    parser.add_argument("--seed", type=int, default=21)
    parser.add_argument("--many", action="store_true", help="all simulations at once")
    parser.add_argument("--cores", type=int, default=os.cpu_count() or 1)
    options = parser.parse_args()
    settings = replace(MANY if options.many else SETTINGS, seed=options.seed)
    for model in options.models:
        began = time.perf_counter()
        found = fishdown.calibrate(
            model,
            simulations=options.simulations,
            settings=settings,
            keep_in=kept_in(f"calibrated_{model}_{options.seed}_{settings.sampler}.jsonl"),
            cores=options.cores,
        )
        print(f"{found!r} in {time.perf_counter() - began:.0f} s")
        columns = ["quantity", "simulations", "mean_place", "held_by_90", "outcome"]
        print(found.table()[columns].round(3).to_string(index=False), flush=True)


if __name__ == "__main__":
    main()
