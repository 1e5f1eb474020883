"""How fast a season is planned, and what a second worker of a cluster is worth.

    python benchmarks/plan_speed.py --campaigns 200 --repeats 3

Ten designs of one lake, two nets pulled on 10 or 20 days, simulated and refitted by one worker and
by two workers of a local Dask cluster, in turn and in one run, after each worker has compiled the
model. Seconds to start the workers and to compile are printed apart, and are in the minutes for
2,000 campaigns. Targets on two free cores: a ratio of 1.8, and 15 minutes for 2,000 campaigns.
"""

from __future__ import annotations

import argparse
import datetime as dt
import logging
import tempfile
import time
from contextlib import ExitStack
from pathlib import Path

import numpy as np
from distributed import Client, LocalCluster

import fishdown
from fishdown.decisions.plan_campaign import Job, campaign_run
from fishdown.decisions.plan_design import Plan
from fishdown.decisions.plan_file import parse_plan
from fishdown.posterior.sampling import SamplerSettings

DESIGNS = 10
MANY = 2000
# Those of `fishdown plan`.
SETTINGS = SamplerSettings(draws=300, tune=500, chains=2)


def season(simulations: int) -> Plan:
    return parse_plan(
        {
            "lake": {"area_ha": 25, "threshold_kg_per_ha": 100},
            "guess": {
                "fish_per_ha": [40, 150], "mean_weight_kg": [1.8, 3.0],
                "share_a_pull": [0.01, 0.04],
            },
            "temperatures_c": {"june": 20.0, "july": 22.5, "september": 17.0, "november": 6.0},
            "season": {"first_day": dt.date(2027, 6, 15)},
            "candidates": {"marked": [50, 100, 150, 200, 300], "nets": [2], "rounds": [10, 20]},
            "target": {"half_width": 0.3},
            "simulation": {"simulations": simulations, "most_simulations": simulations},
        }
    )  # fmt: skip


def started(workers: int, job: Job, stack: ExitStack) -> tuple[LocalCluster, float]:
    """Start a cluster and have each worker compile; returns the seconds too."""
    begun = time.perf_counter()
    cluster = stack.enter_context(
        LocalCluster(
            n_workers=workers,
            threads_per_worker=1,
            processes=True,
            dashboard_address=":0",
            silence_logs=logging.ERROR,
        )
    )
    with Client(cluster, set_as_default=False) as client:
        names = list(client.scheduler_info(n_workers=-1)["workers"])
        client.gather(
            [client.submit(campaign_run, job, (0, 0), workers=[name], pure=False) for name in names]
        )
    return cluster, time.perf_counter() - begun


def planned(asked: Plan, cluster: LocalCluster) -> tuple[str, float]:
    """Plan on a cluster; returns the table and the seconds."""
    with tempfile.TemporaryDirectory() as out:
        begun = time.perf_counter()
        fishdown.plan(asked, out, settings=SETTINGS, scheduler=cluster.scheduler_address)
        return (Path(out) / "plan.csv").read_text(encoding="utf-8"), time.perf_counter() - begun


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawTextHelpFormatter
    )
    parser.add_argument("--campaigns", type=int, default=200, help="in all, tens from 50 on (200)")
    parser.add_argument("--repeats", type=int, default=3)
    options = parser.parse_args()
    asked = season(options.campaigns // DESIGNS)
    count = asked.simulations * DESIGNS
    starts, clusters = {}, {}
    seconds: dict[int, list[float]] = {1: [], 2: []}
    tables = set()
    with ExitStack() as stack:
        for workers in seconds:
            clusters[workers], starts[workers] = started(workers, Job(asked, SETTINGS), stack)
        for _ in range(options.repeats):
            for workers, cluster in clusters.items():
                table, taken = planned(asked, cluster)
                tables.add(table)
                seconds[workers].append(taken)
    print(
        "| workers | campaigns | seconds | a minute | start-up, s | with it, s | 2,000 take, min |"
    )
    print("| ---: | ---: | ---: | ---: | ---: | ---: | ---: |")
    for workers, found in seconds.items():
        typical, start = float(np.median(found)), starts[workers]
        many = (start + MANY / count * typical) / 60.0
        kind = "measured" if count == MANY else "extrapolated"
        print(
            f"| {workers} | {count:,} | {typical:.1f} ({min(found):.1f}–{max(found):.1f}) "
            f"| {60.0 * count / typical:.0f} | {start:.1f} | {start + typical:.1f} "
            f"| {many:.1f} ({kind}) |"
        )
    ratios = np.array(seconds[1]) / np.array(seconds[2])
    whole = (starts[1] + np.median(seconds[1])) / (starts[2] + np.median(seconds[2]))
    print(
        f"Two workers against one: {np.median(ratios):.2f} times as fast "
        f"({ratios.min():.2f}–{ratios.max():.2f}), with start-up {whole:.2f}."
    )
    print(f"The plans are {'the same' if len(tables) == 1 else 'NOT THE SAME'}.")


if __name__ == "__main__":
    main()
