"""How much pens, antennas and a second gear narrow the biomass left in messy lakes.

    python benchmarks/evidence_width.py --campaigns 60

MESSY.md, section "What evidence narrows", says what is simulated, with which seed, and what is
wanted. Every campaign is kept in `kept/`; a stopped study goes on where it stopped.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pandas as pd
import xarray as xr
from messy import Compiled
from messy_models import ROBUST
from messy_worlds import FIRST_DAY, campaign_of
from trials import Clock, kept_in

from fishdown.campaign import Campaign
from fishdown.results_log import ResultsLog
from fishdown.worlds.antenna import AntennaTruth, listen

SEED = 2_061
KINDS = ("a mixture", "nothing wrong")
PENNED, TAGS, RUN, NIGHTS = 50, 150, 300, 10

type Add = Callable[[Campaign, dict[str, float], np.random.Generator], Campaign]


def with_pen(campaign: Campaign, truth: dict[str, float], rng: np.random.Generator) -> Campaign:
    """Keep marked fish in a pen."""
    alive = rng.binomial(PENNED, truth["alive"])
    counts = {
        "penned": PENNED, "pen_alive": alive, "pen_marked": rng.binomial(alive, truth["kept"]),
    }  # fmt: skip
    columns = {name: ("batch", np.array([float(count)])) for name, count in counts.items()}
    return replace(campaign, batches=campaign.batches.assign(columns))


def with_antenna(campaign: Campaign, truth: dict[str, float], rng: np.random.Generator) -> Campaign:
    """Listen for tags before netting."""
    tags = min(TAGS, int(campaign.seasons["marked"][0]))
    heard = AntennaTruth(nights=NIGHTS, mean=0.25, logit_spread=1.0)
    return replace(campaign, antenna=listen(tags, truth["alive"] * truth["kept"], heard, rng))


def with_run(campaign: Campaign, truth: dict[str, float], rng: np.random.Generator) -> Campaign:
    """Take a sample by another gear before netting."""
    fish, released = truth["abundance_before"], float(campaign.seasons["marked"][0])
    marked = released * truth["alive"] * truth["kept"]
    odds = rng.uniform(0.7, 1.4) * rng.gamma(0.3**-2, 0.3**2)
    looked_at = int(min(RUN, fish // 2))
    seen = rng.binomial(looked_at, marked * odds / (marked * odds + fish - marked))
    columns = {
        "season_index": 0, "date": np.datetime64(FIRST_DAY) - np.timedelta64(10, "D"),
        "gear": "seine", "marking_gear": False, "caught": float(looked_at),
        "examined": float(looked_at), "marked": float(seen), "effort": np.nan, "gone_before": 0.0,
        "marks_at_large": released,
    }  # fmt: skip
    row = {name: ("run", np.array([value])) for name, value in columns.items()}
    return replace(campaign, surveys=xr.Dataset(row))


ADDED: dict[str, tuple[Add, ...]] = {
    "as it is": (),
    "a pen": (with_pen,),
    "an antenna": (with_antenna,),
    "a second gear": (with_run,),
    "all together": (with_pen, with_antenna, with_run),
}


def log_of(kind: str, added: str) -> ResultsLog:
    """Return the log of a kind of world and what was added."""
    place = f"{KINDS.index(kind)}_{list(ADDED).index(added)}"
    return ResultsLog(
        kept_in(f"evidence_width_{place}.jsonl"),
        {"study": "evidence width", "seed": SEED, "added": added},
    )


def run(campaigns: int, minutes: float) -> None:
    """Fit the campaigns that are still missing."""
    clock = Clock(minutes)
    compiled: dict[str, Compiled] = {}
    logs = {(kind, added): log_of(kind, added) for kind in KINDS for added in ADDED}
    children = np.random.SeedSequence(SEED).spawn(campaigns)
    for number in range(campaigns):
        for (kind, added), log in logs.items():
            if clock.over:
                return
            if number in log.rows:
                continue
            rng = np.random.default_rng(children[number])
            campaign, (truth,) = campaign_of(kind, 1, rng)
            tagged = campaign.batches.assign(mark=("batch", np.array(["pit_tag"])))
            campaign = replace(campaign, batches=tagged)
            # What is added is drawn alike whatever else is.
            for add, own in zip((with_pen, with_antenna, with_run), rng.spawn(3), strict=True):
                if add in ADDED[added]:
                    campaign = add(campaign, truth, own)
            if added not in compiled:
                compiled[added] = Compiled(ROBUST, campaign)
            left, went = compiled[added].left(campaign, number)
            low, high = np.quantile(left, [0.05, 0.95])
            row = {"low": low, "high": high, "truth": truth["biomass_after"]}
            row["diverged"] = went["divergences"]
            log.add(number, {name: float(value) for name, value in row.items()})


def table() -> list[str]:
    """Return the table of all that is kept."""
    lines = [
        "| kind | added | campaigns | 90 % hold | ln ratio of ends | change | with a divergence |",
        "| --- | --- | ---: | ---: | ---: | ---: | ---: |",
    ]
    for kind in KINDS:
        plain = float("nan")
        for added in ADDED:
            rows = pd.DataFrame(list(log_of(kind, added).rows.values()))
            if rows.empty:
                continue
            held = (rows["low"] <= rows["truth"]) & (rows["truth"] <= rows["high"])
            width = float(np.log(rows["high"] / rows["low"]).median())
            plain = width if added == "as it is" else plain
            change = "–" if added == "as it is" else f"{100.0 * (width / plain - 1.0):+.0f}%"
            diverged = int((rows["diverged"] > 0).sum())
            lines.append(
                f"| {kind} | {added} | {len(rows)} | {held.mean():.0%} | {width:.2f} | {change} "
                f"| {diverged} |"
            )
    return lines


def main() -> None:
    """Run the study and print its table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--campaigns", type=int, default=60)
    parser.add_argument("--minutes", type=float, default=60.0)
    parser.add_argument("--show", action="store_true", help="no runs, only the table")
    options = parser.parse_args()
    if not options.show:
        run(options.campaigns, options.minutes)
    print("\n".join(table()))


if __name__ == "__main__":
    main()
