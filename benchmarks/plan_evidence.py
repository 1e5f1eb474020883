"""What evidence on marks is worth in a plan: the same seasons with and without it.

    python benchmarks/plan_evidence.py --campaigns 20

DECISIONS.md, "What evidence is worth in a plan", says what is simulated and with which seed.
Campaigns are kept in `kept/`; a stopped study goes on where it stopped.
"""

from __future__ import annotations

import argparse
import datetime as dt

import numpy as np
from trials import kept_in

import fishdown
from fishdown.decisions.plan import firm
from fishdown.decisions.plan_design import Plan
from fishdown.decisions.plan_file import parse_plan
from fishdown.posterior.sampling import SamplerSettings

SEED = 4_111
# Those of `fishdown plan`.
SETTINGS = SamplerSettings(draws=300, tune=500, chains=2)


def asked(campaigns: int) -> Plan:
    """Return the plan: one design, with and without a pen, an antenna and another gear."""
    return parse_plan(
        {
            "lake": {"area_ha": 25, "threshold_kg_per_ha": 100},
            "guess": {
                "fish_per_ha": [40, 150], "mean_weight_kg": [1.8, 3.0],
                "share_a_pull": [0.01, 0.03],
            },
            "temperatures_c": {"june": 20.0, "july": 22.5, "september": 17.0, "november": 6.0},
            "season": {"first_day": dt.date(2027, 6, 15), "mark": "pit_tag"},
            "candidates": {
                "marked": 200, "nets": 4, "rounds": 8, "penned": [0, 50],
                "antenna_nights": [0, 10], "surveyed": [0, 300],
            },
            "target": {"half_width": 0.3, "right_and_firm": 0.7},
            "simulation": {
                "simulations": campaigns, "most_simulations": campaigns, "seed": SEED
            },
        }
    )  # fmt: skip


def main() -> None:
    """Simulate, refit, and print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--campaigns", type=int, default=20)
    options = parser.parse_args()
    plan = asked(options.campaigns)
    planned = fishdown.plan(plan, kept_in("plan_evidence"), settings=SETTINGS)
    print("| evidence | half-width, median | change, same seasons | right and firm | 90 % hold |")
    print("| --- | ---: | ---: | ---: | ---: |")
    bare = np.zeros(0)
    for place, design in enumerate(plan.candidates):
        own = [run for run in planned.runs if run.candidate == place]
        width = np.array([0.5 * (run.high - run.low) / run.median for run in own])
        bare = width if place == 0 else bare
        gain = np.log(width / bare)
        error = gain.std(ddof=1) / np.sqrt(len(gain))
        change = "–" if place == 0 else f"{100 * np.expm1(gain.mean()):+.0f} ± {100 * error:.0f} %"
        held = np.mean([run.low <= run.fish <= run.high for run in own])
        parts = [
            name
            for name, there in (
                ("pen", design.penned),
                ("antenna", design.antenna_nights),
                ("other gear", design.surveyed),
            )
            if there
        ]
        print(
            f"| {', '.join(parts) or 'none'} | {np.median(width):.1%} | {change} "
            f"| {firm(plan, own)[0].sum()} of {len(own)} | {held:.0%} |"
        )


if __name__ == "__main__":
    main()
