"""How often the checks of a fit fail: by chance, and where one thing goes wrong.

    python benchmarks/checks_power.py --seed 2029 --campaigns 20 --minutes 60

RESULTS.md, "Power of the checks", says what is simulated. Every campaign is kept in `kept/`; a
stopped study goes on where it stopped.
"""

from __future__ import annotations

import argparse
import time
from dataclasses import replace
from typing import Any

import numpy as np
from messy_models import EVERY_MARK, ROBUST, specification, specification_text
from messy_worlds import KINDS, campaign_of
from trials import SETTINGS, Clock, OneLake, kept_in

from fishdown.checks.battery import DRAWS
from fishdown.checks.result import FALSE_ALARM
from fishdown.results_log import ResultsLog

SEED = 2_028
MODELS = (ROBUST, EVERY_MARK)
# A tail as small as this is no finding, but sound campaigns have it known how often.
SMALL = 0.1


def log_of(kind: str, lakes: int, model: str, seed: int) -> ResultsLog:
    header = {
        "kind": kind,
        "seed": seed,
        "model": specification_text(model, lakes),
        "settings": SETTINGS.entry(),
        "draws": DRAWS,
        "false_alarm": FALSE_ALARM,
    }
    place = f"{lakes}_{MODELS.index(model)}_{list(KINDS).index(kind)}_{seed}"
    return ResultsLog(kept_in(f"checks_{place}.jsonl"), header)


def run(
    logs: dict[str, ResultsLog], lakes: int, model: str, seed: int, campaigns: int, minutes: float
) -> None:
    """Fit and check the campaigns that are still missing, kind by kind in turn."""
    clock = Clock(minutes)
    compiled: OneLake | None = None
    # Campaign i of every kind comes from child i: kinds share their lakes.
    for number, child in enumerate(np.random.SeedSequence(seed).spawn(campaigns)):
        for kind, log in logs.items():
            if clock.over:
                return
            if number in log.rows:
                continue
            campaign, _ = campaign_of(kind, lakes, np.random.default_rng(child))
            compiled = compiled or OneLake(campaign, specification(model, lakes))
            began = time.perf_counter()
            fit = compiled.fit(campaign, replace(SETTINGS, seed=number))
            fitted = time.perf_counter()
            found = replace(fit, run={"seed": number}).checks()
            row: dict[str, Any] = {
                "checks": {
                    result.name: {
                        "outcome": result.outcome,
                        "code": result.said.code.name,
                        "tail": float(result.table["tail"].min())
                        if "tail" in result.table
                        else None,
                    }
                    for result in found
                },
                "divergences": int(fit.tree["sample_stats/diverging"].values.sum()),
                "seconds": [fitted - began, time.perf_counter() - fitted],
            }
            log.add(number, row)


def table(logs: dict[str, ResultsLog]) -> list[str]:
    """Lay out how often each check failed in each kind, and how often its tail was small."""
    rows = {kind: list(log.rows.values()) for kind, log in logs.items()}
    names = dict.fromkeys(name for of in rows.values() for row in of for name in row["checks"])
    lines = [
        "| check | " + " | ".join(f"{kind} ({len(of)})" for kind, of in rows.items()) + " |",
        "| --- |" + " ---: |" * len(rows),
    ]
    for name in names:
        cells = [cell(name, of) for of in rows.values()]
        if any(cells):
            lines.append(f"| {name} | " + " | ".join(cells) + " |")
    any_failed = [
        sum(any(one["outcome"] == "not passed" for one in row["checks"].values()) for row in of)
        for of in rows.values()
    ]
    lines.append("| any of them | " + " | ".join(map(str, any_failed)) + " |")
    return lines


def cell(name: str, rows: list[dict[str, Any]]) -> str:
    """Return how many of the campaigns judged failed, and how many had a small tail."""
    judged = [row["checks"][name] for row in rows if name in row["checks"]]
    judged = [one for one in judged if one["outcome"] != "for information"]
    if not judged:
        return ""
    failed = sum(one["outcome"] == "not passed" for one in judged)
    tails = [one["tail"] for one in judged if one["tail"] is not None]
    small = f", {sum(tail < SMALL for tail in tails)} below {SMALL:.0%}" if tails else ""
    return f"{failed} of {len(judged)}{small}"


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawTextHelpFormatter
    )
    parser.add_argument("--campaigns", type=int, default=20)
    parser.add_argument("--minutes", type=float, default=60.0, help="stop after so many")
    parser.add_argument("--kinds", nargs="*", choices=list(KINDS), default=list(KINDS))
    parser.add_argument("--lakes", type=int, choices=(1, 6), default=1)
    parser.add_argument("--model", choices=MODELS, default=ROBUST)
    parser.add_argument("--seed", type=int, default=SEED)
    parser.add_argument("--show", action="store_true", help="no runs, only the table")
    options = parser.parse_args()
    lakes, model, seed = options.lakes, options.model, options.seed
    logs = {kind: log_of(kind, lakes, model, seed) for kind in options.kinds}
    if not options.show:
        run(logs, lakes, model, seed, options.campaigns, options.minutes)
    print("\n".join(table(logs)))


if __name__ == "__main__":
    main()
