"""How often 90 % intervals hold the truth: simulated campaigns, fitted as a user would.

    python benchmarks/recovery.py one_lake --campaigns 40
    python benchmarks/recovery.py pooled_lakes --campaigns 40

Prints, for each reported quantity, the share of lakes whose 90 % interval holds the truth, the
median relative error and the median relative width. Results are kept in RESULTS.md.
"""

from __future__ import annotations

import argparse
import time

import numpy as np
import pandas as pd

import fishdown
from fishdown.posterior.sampling import SamplerSettings
from fishdown.worlds import LakeTruth, World, simulate


def draw_world(rng: np.random.Generator, lakes: int) -> World:
    """Draw a campaign as crews make them: 8–300 ha, 30–200 fish/ha, 20–60 pulls a lake."""
    truths = []
    for position in range(lakes):
        area = float(np.exp(rng.uniform(np.log(8.0), np.log(300.0))))
        truths.append(
            LakeTruth(
                name=f"Lake {position + 1}",
                area_ha=round(area, 1),
                fish=round(area * float(np.exp(rng.uniform(np.log(30.0), np.log(200.0))))),
                cleared_ha=float(np.exp(rng.normal(0.0, 0.3))),
                temperature_effect=float(0.5 * np.exp(rng.normal(0.0, 0.2))),
                mean_weight=float(2.4 * np.exp(rng.normal(0.0, 0.25))),
            )
        )
    return World(
        lakes=tuple(truths),
        marked=int(rng.integers(60, 201)),
        nets=int(rng.integers(2, 5)),
        rounds=int(rng.integers(10, 16)),
        schooling=float(rng.uniform(0.4, 1.0)),
    )


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawTextHelpFormatter
    )
    parser.add_argument("model", choices=("one_lake", "pooled_lakes"))
    parser.add_argument("--campaigns", type=int, default=40)
    parser.add_argument("--lakes", type=int, help="lakes a campaign (1, or 4 when pooled)")
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    lakes = options.lakes or (1 if options.model == "one_lake" else 4)

    started = time.perf_counter()
    rows, divergences, attempts = [], 0, 0
    for number, seed in enumerate(np.random.SeedSequence(options.seed).spawn(options.campaigns)):
        rng = np.random.default_rng(seed)
        campaign, truth = simulate(draw_world(rng, lakes), rng)
        fit = fishdown.fit(campaign, options.model, settings=SamplerSettings(seed=number))
        rows.append(truth.merge(fit.estimates(), on=["lake", "season", "quantity"]))
        divergences += fit.run["quality_gate"]["divergences"]
        attempts += len(fit.run["attempts"])
    table = pd.concat(rows)
    table["inside"] = (table["low"] <= table["value"]) & (table["value"] <= table["high"])
    table["error"] = table["median"] / table["value"] - 1.0
    table["width"] = (table["high"] - table["low"]) / table["value"]
    summary = table.groupby("quantity", sort=False).agg(
        lakes=("inside", "size"),
        inside_90=("inside", "mean"),
        median_error=("error", "median"),
        median_width=("width", "median"),
    )
    print(summary.round(3).to_string())
    print(
        f"{options.campaigns} campaigns, {attempts} attempts, {divergences} divergences left, "
        f"{time.perf_counter() - started:.0f} s"
    )


if __name__ == "__main__":
    main()
