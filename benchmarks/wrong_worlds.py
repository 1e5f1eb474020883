"""What becomes of the verdict in worlds that the default model does not suppose.

    python benchmarks/wrong_worlds.py --campaigns 60 --minutes 20

One fault a world, one lake a campaign: how often 90 % intervals still hold the truth, how far off
the estimates are, and how often fishdown noticed: the evidence gate, and the checks against the
records. The first world has no fault, and says how often they speak without a cause. Every campaign
is kept in `kept/`; a stopped study goes on where it stopped. CALIBRATION.md has the results.
"""

from __future__ import annotations

import argparse
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from reliability import reliability
from trials import (
    THRESHOLD,
    Change,
    Clock,
    Miscount,
    OneLake,
    campaigns,
    held,
    kept_in,
    study_header,
)

from fishdown.campaign import Campaign
from fishdown.checks.blind_spot import NOTICED
from fishdown.posterior.disagreement import CONFLICT, DOUBT
from fishdown.results_log import ResultsLog


@dataclass(frozen=True)
class Fault:
    """One way in which a world is not what the model supposes."""

    change: Change | None = None
    miscount: Miscount | None = None


def written_down(share: float, error: float) -> Miscount:
    """Count each catch as a share of what it is, give or take; marked fish are counted right."""

    def miscount(campaign: Campaign, rng: np.random.Generator) -> Campaign:
        pulls = campaign.pulls
        factor = share * np.exp(rng.normal(0.0, error, pulls.sizes["pull"]))
        caught = np.maximum(np.rint(factor * pulls["caught"].values), pulls["recaptured"].values)
        gone = np.cumsum(caught)
        return replace(
            campaign,
            pulls=pulls.assign(
                caught=("pull", caught),
                removed=("pull", caught),
                gone_before=("pull", gone - caught),
            ),
            seasons=campaign.seasons.assign(gone=("season", [gone[-1]])),
        )

    return miscount


FAULTS: dict[str, Fault] = {
    "as the model supposes": Fault(),
    "a fifth of the marks lost": Fault(lambda world: replace(world, marks_lost=0.2)),
    "a fifth of the fish leave midway": Fault(lambda world: replace(world, fish_leaving=0.2)),
    "a fifth of the fish not vulnerable": Fault(lambda world: replace(world, not_vulnerable=0.2)),
    "schooling twice as strong": Fault(
        lambda world: replace(world, schooling=2.0 * world.schooling)
    ),
    "marked fish half as easy to catch": Fault(lambda world: replace(world, marked_hazard=0.5)),
    "catches counted to 15 %": Fault(miscount=written_down(1.0, 0.15)),
    "every tenth fish not counted": Fault(miscount=written_down(0.9, 0.0)),
    "logger 2 °C too warm": Fault(lambda world: replace(world, temperature_bias=2.0)),
    "nets take fish 15 % heavier": Fault(lambda world: replace(world, net_selectivity=1.15)),
    "fish grow 5 % in 30 days": Fault(lambda world: replace(world, weight_trend=0.05)),
    "fish of a catch alike": Fault(lambda world: replace(world, weight_pull_spread=0.15)),
}
CHECKS = ("catch by pull", "spread of catches", "first half to second half", "total recaptures")


def share(happened: np.ndarray, among: np.ndarray) -> str:
    """Return how often something happened among some campaigns."""
    return f"{happened[among].mean():.2f}" if among.any() else "–"


def row_of(name: str, rows: list[dict[str, Any]]) -> str:
    """Lay out one world as a row of the table."""
    truth = np.array([row["truth"]["abundance_before"] for row in rows])
    median = np.array([row["abundance_before"][0] for row in rows])
    after = np.array([row["truth"]["biomass_after"] for row in rows])
    stated = np.array([row["below"] for row in rows])
    scored = reliability(stated, after < THRESHOLD)
    off = np.median([row["biomass_after"][0] - row["truth"]["biomass_after"] for row in rows])
    tail_probability = np.array([row["tail_probability"] for row in rows])
    unchecked = (tail_probability >= DOUBT) & (np.array([row["noticed"] for row in rows]) < NOTICED)
    silent = (tail_probability >= DOUBT) & ~unchecked
    held_biomass = held(rows, "biomass_after")
    if_lost = held(rows, "biomass_after", by="if_lost")
    sure = stated > 0.9
    false = f"{(after[sure] >= THRESHOLD).sum()} of {sure.sum()}"
    noticed = [np.mean([not row["checks"][check] for row in rows]) for check in CHECKS]
    return (
        f"| {name} | {len(rows)} | {held(rows, 'abundance_before').mean():.2f} "
        f"| {held_biomass.mean():.2f} "
        f"| {np.median(median / truth - 1.0):+.1%} | {off:+.1f} | {scored.brier:.3f} | {false} "
        f"| {(tail_probability < CONFLICT).mean():.2f} | {(tail_probability < DOUBT).mean():.2f} "
        f"| {unchecked.mean():.2f} | {share(if_lost, unchecked)} "
        f"| {silent.mean():.2f} | {share(held_biomass, silent)} | "
        + " | ".join(f"{share:.2f}" for share in noticed)
        + " |"
    )


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawTextHelpFormatter
    )
    parser.add_argument("--campaigns", type=int, default=60)
    parser.add_argument("--minutes", type=float, default=20.0, help="stop after so many")
    parser.add_argument("--seed", type=int, default=77)
    options = parser.parse_args()
    clock = Clock(options.minutes)
    logs = {
        name: ResultsLog(kept_in(f"world_{place}.jsonl"), study_header(options.seed, world=name))
        for place, name in enumerate(FAULTS)
    }
    lake: OneLake | None = None
    # Turn and turn about, so that a stopped study has as many campaigns of every world.
    for goal in range(10, options.campaigns + 10, 10):
        for name, fault in FAULTS.items():
            log = logs[name]
            goal = min(goal, options.campaigns)
            drawn = campaigns(log, options.seed, goal, fault.change, fault.miscount)
            for number, campaign, truth in drawn:
                if clock.over:
                    break
                lake = lake or OneLake(campaign)
                row = lake.answers(campaign, number)
                row |= lake.evidence(campaign, number)
                row["checks"] = lake.checks(campaign, number)
                log.add(number, {**row, "truth": truth})
    print(
        "| world | campaigns | abundance held | biomass held | error of abundance "
        "| error of biomass after, kg/ha | Brier | P(below) > 90 % and above "
        "| gate withholds | gate remarks | cautioned | held by the what-if, where cautioned "
        "| silent | biomass held, where silent | " + " | ".join(CHECKS) + " |"
    )
    print("| --- |" + " ---: |" * (13 + len(CHECKS)))
    for name, log in logs.items():
        if log.rows:
            print(row_of(name, [log.rows[number] for number in sorted(log.rows)]))


if __name__ == "__main__":
    main()
