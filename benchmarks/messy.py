"""How the verdict fares in messy lakes, beside models that take less, or know more, for granted.

    python benchmarks/messy.py --lakes 1 --campaigns 200 --minutes 60 --part 1/2

MESSY.md says what is simulated, with which seeds, and what is wanted. Every campaign is kept in
`kept/`; a stopped study goes on where it stopped. Several processes share the work by `--part`.
"""

from __future__ import annotations

import argparse
import time
from dataclasses import replace
from typing import Any

import numpy as np
from messy_worlds import KINDS, THRESHOLD, campaign_of, with_marks_told
from scipy import stats
from trials import LEVELS, SETTINGS, Clock, kept_in, limits

import fishdown
from fishdown.campaign import Campaign
from fishdown.formulas.marking import chapman
from fishdown.models.data import fitting_spec, model_data
from fishdown.models.graph import build
from fishdown.models.parts import chosen_parts
from fishdown.posterior.quantities import reported_quantities
from fishdown.posterior.sampling import Sampler
from fishdown.results_log import ResultsLog

SEEDS = {1: 2_026, 6: 2_027}
EVERY_MARK, ROBUST, TOLD, CHAPMAN = "every mark counts", "robust", "marks told", "Chapman"
MODELS = (EVERY_MARK, ROBUST, TOLD)
# What was the default before; parts of other names have their first choice then.
BEFORE = {
    "evidence": "both",
    "catch": "schooling",
    "catchability": "per_area",
    "temperature": "log_linear",
    "nets": "differ",
    "first_pulls": "best",
    "weights": "measured",
    "lengths": "log_log",
    "sizes": "by_lake_and_year",
}


def specification(model: str, lakes: int) -> fishdown.ModelSpec:
    """Return one of `MODELS`."""
    spec = fishdown.read_model("one_lake" if lakes == 1 else "pooled_lakes")
    if model == EVERY_MARK:
        plain = {name: part.default for name, part in chosen_parts().items()}
        return spec.with_parts(**{**plain, **BEFORE, "pooling": spec.part("pooling")})
    return spec.with_parts(marks="all_count") if model == TOLD else spec


class Compiled:
    """A model compiled once, and fed with campaign after campaign."""

    def __init__(self, model: str, campaign: Campaign) -> None:
        lakes = campaign.lakes.sizes["lake"]
        self.spec, _ = fitting_spec(campaign, specification(model, lakes))
        data = model_data(campaign, self.spec)
        self._sampler = Sampler(build(self.spec, data, campaign.coords), "nutpie", reusable=True)

    def left(self, campaign: Campaign, seed: int) -> tuple[np.ndarray, dict[str, Any]]:
        """Return draws of the biomass left, shape (draw, lake), and how the sampling went."""
        self._sampler.feed(model_data(campaign, self.spec))
        began = time.perf_counter()
        tree = self._sampler.sample(replace(SETTINGS, seed=seed))
        went = {
            "seconds": time.perf_counter() - began,
            "divergences": int(tree["sample_stats/diverging"].values.sum()),
        }
        drawn = reported_quantities(tree["posterior"].to_dataset(), campaign, self.spec)
        left = drawn["biomass_after"].values
        return left.reshape(-1, left.shape[-1]), went


def scores(draws: np.ndarray, truth: float) -> dict[str, Any]:
    """Return limits, P(below) and log score of the biomass of one lake."""
    below = (draws < THRESHOLD).mean()
    density = stats.gaussian_kde(np.log(np.maximum(draws, 1e-3)))(np.log(truth))[0]
    wide = stats.norm.pdf(np.log(truth), np.log(np.median(draws)), 2.0)
    return {
        "limits": limits(draws),
        "below": float(np.clip(below, 0.5 / len(draws), 1.0 - 0.5 / len(draws))),
        "log_score": float(np.log(0.99 * density + 0.01 * wide)),
    }


def classical(campaign: Campaign, lake: int, truth: float) -> dict[str, Any] | None:
    """Return the same by Chapman's estimate times mean weight; None without recaptures."""
    pulls = campaign.pulls.isel(pull=campaign.pulls["season_index"].values == lake)
    caught, recaptured = (int(pulls[name].sum()) for name in ("caught", "recaptured"))
    if not recaptured:
        return None
    marked = int(campaign.seasons["marked"].values[lake])
    weight = campaign.fish["weight"].values[campaign.fish["season_index"].values == lake]
    area = float(campaign.lakes["area"].values[lake])
    mean, error = weight.mean(), weight.std(ddof=1) / np.sqrt(len(weight)) / weight.mean()
    ends: list[float] = []
    for level in LEVELS:
        found = chapman(marked, caught, recaptured, level=level)
        left = np.maximum(np.array([found.low, found.abundance, found.high]) - caught, 1.0)
        half = stats.norm.ppf((1.0 + level) / 2.0) * error
        away = np.hypot(np.log(left[1] / left[[0, 2]]), half) * np.array([-1.0, 1.0])
        ends += (left[1] * mean / area * np.exp(away)).tolist()
        middle = float(left[1] * mean / area)
    spread = np.log(ends[5] / ends[4]) / 2.0 / stats.norm.ppf(0.95)
    density = stats.norm.pdf(np.log(truth / middle), 0.0, spread)
    wide = stats.norm.pdf(np.log(truth / middle), 0.0, 2.0)
    return {
        "limits": [middle, *ends],
        "below": float(stats.norm.cdf(np.log(THRESHOLD / middle) / spread)),
        "log_score": float(np.log(0.99 * density + 0.01 * wide)),
    }


def run(
    lakes: int, campaigns: int, minutes: float, part: tuple[int, int], kinds: list[str]
) -> None:
    """Fit the campaigns of all kinds that are still missing, kind by kind in turn."""
    clock = Clock(minutes)
    logs = {kind: log_of(kind, lakes, part) for kind in kinds}
    compiled: dict[str, Compiled] = {}
    children = np.random.SeedSequence(SEEDS[lakes]).spawn(campaigns)
    for number in range(part[0] - 1, campaigns, part[1]):
        for kind, log in logs.items():
            if clock.over:
                return
            if number in log.rows:
                continue
            rng = np.random.default_rng(children[number])
            campaign, truth = campaign_of(kind, lakes, rng)
            left = [one["biomass_after"] for one in truth]
            row: dict[str, Any] = {"truth": truth, CHAPMAN: [
                classical(campaign, lake, left[lake]) for lake in range(lakes)
            ]}  # fmt: skip
            for model in MODELS:
                fed = campaign
                if model == TOLD:
                    fed = with_marks_told(campaign, [one["effective"] for one in truth])
                if model not in compiled:
                    compiled[model] = Compiled(model, fed)
                draws, went = compiled[model].left(fed, number)
                row[model] = [scores(draws[:, lake], left[lake]) for lake in range(lakes)]
                row[f"{model}, sampling"] = went
            log.add(number, row)


def log_of(kind: str, lakes: int, part: tuple[int, int]) -> ResultsLog:
    place = list(KINDS).index(kind)
    header = {
        "kind": kind,
        "lakes": lakes,
        "seed": SEEDS[lakes],
        "models": {model: specification_text(model, lakes) for model in MODELS},
        "settings": SETTINGS.entry(),
    }
    return ResultsLog(kept_in(f"messy_{lakes}_{place}_{part[0]}of{part[1]}.jsonl"), header)


def specification_text(model: str, lakes: int) -> dict[str, Any]:
    spec = specification(model, lakes)
    return {**spec.parts, **{name: prior.entry() for name, prior in spec.priors.items()}}


def rows_of(kind: str, lakes: int, parts: int) -> list[dict[str, Any]]:
    found: dict[Any, dict[str, Any]] = {}
    for part in range(1, parts + 1):
        found |= log_of(kind, lakes, (part, parts)).rows
    return [found[number] for number in sorted(found)]


def table(lakes: int, parts: int) -> list[str]:
    """Lay out the scores of every kind and model."""
    lines = [
        "| kind | model | campaigns | 50 % | 80 % | 90 % | 95 % | ratio of 90 % ends "
        "| surer than 90 % below, wrong | above, wrong | log score | gain on every mark counts |",
        "| --- | --- |" + " ---: |" * 10,
    ]
    for kind in KINDS:
        rows = rows_of(kind, lakes, parts)
        if rows:
            lines += [line_of(kind, model, rows) for model in (CHAPMAN, *MODELS)]
    return lines


def line_of(kind: str, model: str, rows: list[dict[str, Any]]) -> str:
    answers = [
        (answer, truth["biomass_after"])
        for row in rows
        for answer, truth in zip(row[model], row["truth"], strict=True)
        if answer is not None
    ]
    truth = np.array([left for _, left in answers])
    ends = np.array([answer["limits"] for answer, _ in answers])
    held = [
        f"{np.mean((ends[:, 1 + 2 * i] <= truth) & (truth <= ends[:, 2 + 2 * i])):.0%}"
        for i in range(len(LEVELS))
    ]
    below = np.array([answer["below"] for answer, _ in answers])
    wrong = [
        f"{int((sure & false).sum())} of {int(sure.sum())}"
        for sure, false in ((below > 0.9, truth >= THRESHOLD), (below < 0.1, truth < THRESHOLD))
    ]
    score, gain = [], []
    for row in rows:
        pairs = [
            (mine["log_score"], plain["log_score"])
            for mine, plain in zip(row[model], row[EVERY_MARK], strict=True)
            if mine is not None
        ]
        if pairs:
            score.append(np.mean([mine for mine, _ in pairs]))
            gain.append(np.mean([mine - plain for mine, plain in pairs]))
    error = np.std(gain, ddof=1) / np.sqrt(len(gain)) if len(gain) > 1 else np.nan
    ninety = np.median(ends[:, 6] / ends[:, 5])
    cells = [
        kind if model == CHAPMAN else "", model, str(len(rows)), *held, f"{ninety:.2f}", *wrong,
        f"{np.mean(score):.2f}",
        "–" if model == EVERY_MARK else f"{np.mean(gain):+.2f} ± {error:.2f}",
    ]  # fmt: skip
    return "| " + " | ".join(cells) + " |"


def sampling(lakes: int, parts: int) -> list[str]:
    """Say how long sampling took, and how often it went wrong, over all kinds."""
    rows = [row for kind in KINDS for row in rows_of(kind, lakes, parts)]
    lines = []
    for model in MODELS:
        went = [row[f"{model}, sampling"] for row in rows]
        seconds = np.median([one["seconds"] for one in went])
        diverged = sum(one["divergences"] > 0 for one in went)
        lines.append(
            f"{model}: {seconds:.2f} s of sampling (median), {diverged} of {len(went)} "
            "campaigns with a divergence"
        )
    return lines


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawTextHelpFormatter
    )
    parser.add_argument("--lakes", type=int, choices=sorted(SEEDS), default=1)
    parser.add_argument("--campaigns", type=int, default=200)
    parser.add_argument("--minutes", type=float, default=60.0, help="stop after so many")
    parser.add_argument("--part", default="1/1", help="which of how many processes this is")
    parser.add_argument("--kinds", nargs="*", choices=list(KINDS), default=list(KINDS))
    parser.add_argument("--show", action="store_true", help="no runs, only the table")
    options = parser.parse_args()
    number, parts = (int(part) for part in options.part.split("/"))
    if not options.show:
        run(options.lakes, options.campaigns, options.minutes, (number, parts), options.kinds)
    print("\n".join([*table(options.lakes, parts), "", *sampling(options.lakes, parts)]))


if __name__ == "__main__":
    main()
