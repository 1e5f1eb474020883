"""Whether P(below the threshold) comes true, and whether intervals hold what they claim.

    python benchmarks/calibration.py --campaigns 1000 --minutes 15

One lake a campaign, drawn as crews make them, on both sides of the threshold; fitted by the default
model, and by the classical estimators for comparison. Every campaign is kept in
`kept/calibration.jsonl` and a stopped study goes on where it stopped. CALIBRATION.md has the
results.
"""

from __future__ import annotations

import argparse
from typing import Any

import numpy as np
from reliability import Reliability, reliability
from trials import (
    LEVELS,
    THRESHOLD,
    Clock,
    OneLake,
    campaigns,
    covered,
    kept_in,
    limits,
    reliability_table,
    study_header,
)

from fishdown.campaign import Campaign
from fishdown.formulas import classical_estimators
from fishdown.results_log import ResultsLog

FORMULAS = (
    "Chapman, one marking",
    "Schnabel",
    "passes, maximum likelihood",
    "Leslie",
    "DeLury",
)
# Levels whose limits are joined to a whole distribution of what a formula says.
GRID = (0.02, 0.25, 0.5, 0.8, 0.9, 0.95, 0.98, 0.998)
DRAWS = 4_000


def by_formula(campaign: Campaign, rng: np.random.Generator) -> dict[str, Any]:
    """Return what each formula says of the biomass after netting: P(below) and limits.

    A formula's limits at many levels are joined to a distribution of abundance, and the mean weight
    has its standard error: the kindest reading, since crews mostly use the formula's number alone.
    """
    pulls = campaign.season_pulls(0).to_dataframe()
    tables = {level: {row.method: row.estimate for row in classical_estimators(pulls, level=level)}
              for level in GRID}  # fmt: skip
    weights = campaign.fish["weight"].values
    error = weights.std(ddof=1) / np.sqrt(len(weights))
    weight = rng.normal(weights.mean(), error, DRAWS)
    area = float(campaign.lakes["area"].values[0])
    gone = float(campaign.seasons["gone"].values[0])
    found: dict[str, Any] = {}
    for name in FORMULAS:
        estimates = [tables[level][name] for level in GRID]
        if any(estimate is None for estimate in estimates):
            found[name] = None
            continue
        tails = [(1 - level) / 2 for level in GRID]
        probability = np.array([*reversed(tails), *(1 - tail for tail in tails)])
        fish = np.array([*(e.low for e in reversed(estimates)), *(e.high for e in estimates)])
        fish = np.maximum.accumulate(np.minimum(fish, 1e9))
        drawn = np.interp(rng.uniform(size=DRAWS), probability, fish)
        after = np.maximum(drawn - gone, 0.0) * weight / area
        below = float(np.clip((after < THRESHOLD).mean(), 0.5 / DRAWS, 1.0 - 0.5 / DRAWS))
        found[name] = {"below": below, "biomass_after": limits(after)}
    return found


def report(rows: list[dict[str, Any]]) -> str:
    """Lay out all results as Markdown."""
    happened = np.array([row["truth"]["biomass_after"] < THRESHOLD for row in rows])
    lines = [
        f"{len(rows)} campaigns, {happened.mean():.0%} of them below the threshold; "
        f"{sum(row['divergences'] > 0 for row in rows)} with a divergence.",
        "",
    ]
    model = reliability([row["below"] for row in rows], happened)
    lines += [
        *reliability_table(model, "stated P(below)"),
        "",
        f"The curve {'stays inside' if model.inside else 'LEAVES'} the band that holds 95 % of "
        "the curves of calibrated forecasters.",
        "",
        "| by | campaigns | Brier | miscalibration (limit of chance) | discrimination | "
        + " | ".join(f"{level:.0%} holds" for level in LEVELS)
        + " | 90 % is wide, kg/ha |",
        "| --- | ---: | ---: | ---: | ---: |" + " ---: |" * (len(LEVELS) + 1),
        _row("fishdown", rows, model),
    ]
    for name in FORMULAS:
        answered = [
            {**row["formulas"][name], "truth": row["truth"]}
            for row in rows
            if row["formulas"][name] is not None
        ]
        known = np.array([row["truth"]["biomass_after"] < THRESHOLD for row in answered])
        lines.append(_row(name, answered, reliability([r["below"] for r in answered], known)))
        # On the campaigns that the formula answers, so that both have the same to do.
        same = [row for row in rows if row["formulas"][name] is not None]
        if len(same) < len(rows):
            again = reliability([row["below"] for row in same], known)
            lines.append(_row("fishdown, the same campaigns", same, again))
    return "\n".join(lines)


def _row(name: str, rows: list[dict[str, Any]], found: Reliability) -> str:
    levels = covered(rows, "biomass_after")
    shares = " | ".join(f"{share:.3f}" for _, share, _ in levels)
    width = next(wide for level, _, wide in levels if level == 0.9)
    return (
        f"| {name} | {len(rows)} | {found.brier:.4f} | {found.miscalibration:.4f} "
        f"({found.miscalibration_limit:.4f}) | {found.discrimination:.4f} | {shares} "
        f"| {width:.1f} |"
    )


def draw_figure(rows: list[dict[str, Any]], path: Any) -> None:
    """Draw the reliability diagram with its consistency band."""
    from matplotlib.figure import Figure

    happened = [row["truth"]["biomass_after"] < THRESHOLD for row in rows]
    curve = reliability([row["below"] for row in rows], happened).curve
    figure = Figure(figsize=(5.0, 5.0), layout="constrained")
    axes = figure.subplots()
    axes.fill_between(curve["stated"], curve["low"], curve["high"], alpha=0.2,
                      label="holds 95 % of whole curves")  # fmt: skip
    axes.fill_between(curve["stated"], curve["usual_low"], curve["usual_high"], alpha=0.3,
                      color="C0", label="holds 90 % at each point")  # fmt: skip
    axes.plot(curve["stated"], curve["happened"], color="black", label="fishdown")
    axes.plot([0, 1], [0, 1], linewidth=0.8, linestyle="--", label="comes true as stated")
    axes.set_title(f"{len(rows)} simulated campaigns")
    axes.set_xlabel("stated probability of being below the threshold")
    axes.set_ylabel("share of campaigns below it")
    axes.legend()
    figure.savefig(path, dpi=110)


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawTextHelpFormatter
    )
    parser.add_argument("--campaigns", type=int, default=1000)
    parser.add_argument("--minutes", type=float, default=15.0, help="stop after so many")
    parser.add_argument("--seed", type=int, default=2026)
    parser.add_argument("--figure", help="write the reliability diagram to this file")
    options = parser.parse_args()
    log = ResultsLog(kept_in("calibration.jsonl"), study_header(options.seed))
    clock = Clock(options.minutes)
    lake: OneLake | None = None
    for number, campaign, truth in campaigns(log, options.seed, options.campaigns):
        if clock.over:
            break
        lake = lake or OneLake(campaign)
        answers = lake.answers(campaign, number)
        formulas = by_formula(campaign, np.random.default_rng(number))
        log.add(number, {**answers, "truth": truth, "formulas": formulas})
    rows = [log.rows[number] for number in sorted(log.rows)]
    print(report(rows))
    if options.figure:
        draw_figure(rows, options.figure)


if __name__ == "__main__":
    main()
