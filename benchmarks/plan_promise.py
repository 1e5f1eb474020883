"""Whether the design that a plan chooses keeps what the plan promises.

    python benchmarks/plan_promise.py --campaigns 300 --minutes 60

DECISIONS.md, section "Does a plan keep its promise?", says what is planned, with which seeds, and
what is wanted. The plan is made first; the chosen design is then tried in fresh lakes of the same
kind, and in the lakes of `messy_worlds.py`, fish by fish, which share nothing with those of the
plan but its guesses. Every campaign is kept in `kept/`; a stopped study goes on where it stopped.
"""

from __future__ import annotations

import argparse
import datetime as dt
from dataclasses import replace
from typing import Any

import numpy as np
from evidence_width import PENNED, with_pen
from messy_worlds import Design, campaign_in
from trials import Clock, kept_in

import fishdown
from fishdown.decisions.plan import FIRM
from fishdown.decisions.plan_campaign import Job, campaign_row, sampled, settled
from fishdown.decisions.plan_design import Candidate, Plan
from fishdown.decisions.plan_file import parse_plan
from fishdown.decisions.plan_worlds import draw_world
from fishdown.intervals import low_median_high
from fishdown.posterior.sampling import SamplerSettings
from fishdown.results_log import ResultsLog
from fishdown.statements.probability import probability_below

PLAN_SEED, FRESH_SEED, FISH_SEED = 4_101, 4_102, 4_103
PROMISE, MARGIN = 0.7, 0.05
KIND = "a mixture"
# Those of `fishdown plan`.
SETTINGS = SamplerSettings(draws=300, tune=500, chains=2)


def asked() -> Plan:
    """Return the plan that is tried."""
    return parse_plan(
        {
            "lake": {"area_ha": 25, "threshold_kg_per_ha": 100},
            "guess": {
                "fish_per_ha": [40, 150], "mean_weight_kg": [1.8, 3.0],
                "share_a_pull": [0.02, 0.05],
            },
            "temperatures_c": {"june": 20.0, "july": 22.5, "september": 17.0, "november": 6.0},
            "season": {"first_day": dt.date(2027, 6, 15)},
            "costs": {
                "per_marked_fish": 15, "per_penned_fish": 20, "per_net": 800, "per_pull": 120,
                "per_field_day": 600,
            },
            "candidates": {
                "marked": [50, 200], "nets": 4, "rounds": [8, 12, 20], "penned": [0, PENNED]
            },
            "target": {"right_and_firm": PROMISE},
            "simulation": {"seed": PLAN_SEED},
        }
    )  # fmt: skip


def firm_of(below: float, probability: float) -> tuple[bool, bool]:
    """Tell whether a verdict is right and firm, and whether it is firm and wrong."""
    yes, no = probability >= FIRM, probability <= 1.0 - FIRM
    return (yes, no) if below else (no, yes)


def in_the_same_worlds(job: Job, place: int, number: int) -> dict[str, float]:
    """Simulate and refit a fresh campaign of the plan's own worlds."""
    return campaign_row(job, (number, place))


def fish_by_fish(job: Job, place: int, number: int) -> dict[str, float]:
    """Simulate a campaign fish by fish, in a lake of the plan's guesses, and refit it."""
    plan, chosen = job.plan, job.plan.candidates[place]
    seed = np.random.SeedSequence(FISH_SEED, spawn_key=(number,))
    of_lake, of_season, of_pen = (np.random.default_rng(child) for child in seed.spawn(3))
    world = draw_world(replace(plan, worlds="plain"), chosen, of_lake)
    days = tuple(
        round((turn // 2) * 2 * plan.days_between) + 3 * (turn % 2) for turn in range(chosen.rounds)
    )
    design = Design(chosen.nets, days, chosen.marked, plan.first_day, plan.temperatures)
    campaign, truth = campaign_in(KIND, world.lakes[0], world.schooling, design, of_season)
    if chosen.penned:
        campaign = with_pen(campaign, truth, of_pen)
    fish, left = sampled(job, place, campaign, int(seed.generate_state(1)[0] >> 1))
    low, median, high = low_median_high(fish)
    return {
        "fish": truth["abundance_before"],
        "median": float(median),
        "low": float(low),
        "high": float(high),
        "biomass_after": truth["biomass_after"],
        "probability_below": probability_below(left, plan.threshold_kg_per_ha)[0],
        "settled": int(settled(fish)),
    }


WHERE = {"the plan's worlds, fresh": in_the_same_worlds, f"fish by fish, {KIND}": fish_by_fish}


def log_of(where: str, chosen: Candidate) -> ResultsLog:
    """Return the log of the chosen design in one kind of worlds."""
    header = {"study": "plan promise", "worlds": where, "design": repr(chosen)}
    return ResultsLog(kept_in(f"plan_promise_{list(WHERE).index(where)}.jsonl"), header)


def lines(rows: list[dict[str, Any]], threshold: float, where: str, promised: float) -> str:
    """Return the row of the table for one kind of worlds."""
    below = np.array([row["biomass_after"] < threshold for row in rows])
    said = np.array([row["probability_below"] if row["settled"] else 0.5 for row in rows])
    right, wrong = np.array([firm_of(*one) for one in zip(below, said, strict=True)]).T
    share, error = right.mean(), np.sqrt(right.mean() * (1.0 - right.mean()) / len(rows))
    held = np.mean([row["low"] <= row["fish"] <= row["high"] for row in rows])
    width = np.median([0.5 * (row["high"] - row["low"]) / row["median"] for row in rows])
    met = "met" if share >= PROMISE - MARGIN else "missed"
    unsettled = sum(not row["settled"] for row in rows)
    return (
        f"| {where} | {len(rows)} | {share:.1%} ± {error:.1%} | {share - promised:+.1%} | {met} "
        f"| {wrong.mean():.1%} | {width:.1%} | {held:.0%} | {below.mean():.0%} | {unsettled} |"
    )


def main() -> None:
    """Plan, try the chosen design, and print the tables."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--campaigns", type=int, default=300)
    parser.add_argument("--minutes", type=float, default=60.0)
    options = parser.parse_args()
    clock = Clock(options.minutes)
    plan = asked()
    planned = fishdown.plan(plan, kept_in("plan_promise"), settings=SETTINGS)
    shown = ["marked", "penned", "rounds", "cost", "campaigns", "right_and_firm",
             "right_and_firm_error", "half_width_median", "target", "cheapest"]  # fmt: skip
    print(planned.frame[shown].to_string(), planned.sentence(), sep="\n\n")
    best = planned.frame[planned.frame["cheapest"]]
    if best.empty:
        print("No design was chosen.")
        return
    place = next(
        number
        for number, one in enumerate(plan.candidates)
        if all(getattr(one, name) == best.iloc[0][name] for name in ("marked", "rounds", "penned"))
    )
    fresh = Job(replace(plan, seed=FRESH_SEED), SETTINGS)
    logs = {where: log_of(where, plan.candidates[place]) for where in WHERE}
    for where, one in WHERE.items():
        for number in range(options.campaigns):
            if number not in logs[where].rows and not clock.over:
                logs[where].add(number, one(fresh, place, number))
    print(
        "\n| worlds | campaigns | right and firm | less the plan's own share | target "
        "| firm and wrong | half-width | 90 % hold | below in truth | no agreement |"
    )
    print("| --- | ---: | ---: | ---: | --- | ---: | ---: | ---: | ---: | ---: |")
    for where, log in logs.items():
        if log.rows:
            promised = float(best.iloc[0]["right_and_firm"])
            print(lines(list(log.rows.values()), plan.threshold_kg_per_ha, where, promised))


if __name__ == "__main__":
    main()
