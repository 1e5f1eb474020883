"""How the verdict fares in messy lakes, beside models that take less, or know more, for granted.

    python benchmarks/messy.py --lakes 1 --campaigns 200 --minutes 60 --part 1/2

MESSY.md says what is simulated, with which seeds, and what is wanted. Every campaign is kept in
`kept/`; a stopped study goes on where it stopped. Several processes share the work by `--part`;
with `--many` all kinds are sampled together, by the thousand, on a graphics processor.
"""

from __future__ import annotations

import argparse
import os
import time
from collections.abc import Iterable
from concurrent.futures import Future, ProcessPoolExecutor
from dataclasses import dataclass, replace
from itertools import batched
from multiprocessing import get_context
from typing import Any

import numpy as np
import xarray as xr
from messy_worlds import KINDS, THRESHOLD, campaign_of, with_marks_told
from scipy import stats
from trials import LEVELS, SETTINGS, Clock, kept_in, limits

import fishdown
from fishdown.api.fit import Fit
from fishdown.campaign import Campaign
from fishdown.formulas.marking import chapman
from fishdown.models.data import fitting_spec, model_data
from fishdown.models.graph import build
from fishdown.models.parts import chosen_parts
from fishdown.posterior.many import CampaignDraws, ManySampler, Prepared, prepare
from fishdown.posterior.quality import judge
from fishdown.posterior.quantities import reported_quantities
from fishdown.posterior.sampling import Sampler, SamplerSettings
from fishdown.results_log import ResultsLog

SEEDS = {1: 2_041, 3: 2_043, 6: 2_046, 12: 2_052}
EVERY_MARK, ROBUST, TOLD, CHAPMAN = "every mark counts", "robust", "marks told", "Chapman"
MODELS = (EVERY_MARK, ROBUST, TOLD)
# Of `--many`.
MANY = SamplerSettings(draws=500, tune=500, chains=4, cores=1, target_accept=0.9, sampler="numpyro")
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
    lakes: int,
    campaigns: int,
    minutes: float,
    part: tuple[int, int],
    kinds: list[str],
    models: list[str],
) -> None:
    """Fit the campaigns of all kinds that are still missing, kind by kind in turn."""
    clock = Clock(minutes)
    logs = {
        (kind, model): log_of(kind, lakes, model, f"{part[0]}of{part[1]}")
        for kind in kinds
        for model in models
    }
    compiled: dict[str, Compiled] = {}
    children = np.random.SeedSequence(SEEDS[lakes]).spawn(campaigns)
    for number in range(part[0] - 1, campaigns, part[1]):
        for (kind, model), log in logs.items():
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
            fed = campaign
            if model == TOLD:
                fed = with_marks_told(campaign, [one["effective"] for one in truth])
            if model not in compiled:
                compiled[model] = Compiled(model, fed)
            draws, went = compiled[model].left(fed, number)
            row[model] = [scores(draws[:, lake], left[lake]) for lake in range(lakes)]
            row[f"{model}, sampling"] = went
            log.add(number, row)


@dataclass(frozen=True)
class World:
    """A campaign of a kind, with the truth, Chapman's answers, and what a model takes."""

    truth: list[dict[str, float]]
    chapman: list[dict[str, Any] | None]
    taken: Prepared


def world_of(kind: str, lakes: int, model: str, seed: np.random.SeedSequence) -> World:
    campaign, truth = campaign_of(kind, lakes, np.random.default_rng(seed))
    formula = [classical(campaign, lake, one["biomass_after"]) for lake, one in enumerate(truth)]
    if model == TOLD:
        campaign = with_marks_told(campaign, [one["effective"] for one in truth])
    return World(truth, formula, prepare(campaign, specification(model, lakes)))


def answers_of(
    posterior: xr.Dataset, stats: xr.Dataset, taken: Prepared, truth: list[dict[str, float]]
) -> tuple[list[dict[str, Any]], dict[str, Any]]:
    """Return the scores of every lake, and how the sampling went."""
    drawn = reported_quantities(posterior, taken.campaign, taken.spec)[["biomass_after"]]
    draws = drawn["biomass_after"].values.reshape(-1, len(truth))
    quality = judge(drawn, stats).entry()
    steps = stats["n_steps"].values
    went = {
        "divergences": quality["divergences"],
        "rhat": quality["largest_rhat"],
        "steps": float(steps.mean()),
    }
    return [scores(draws[:, lake], one["biomass_after"]) for lake, one in enumerate(truth)], went


def run_many(
    lakes: int,
    campaigns: int,
    minutes: float,
    kinds: list[str],
    model: str,
    *,
    at_once: int,
    depth: int,
    cores: int,
    checked: int,
) -> None:
    """Fit a model to the campaigns that are still missing, all kinds together, in batches."""
    clock = Clock(minutes)
    logs = {kind: log_of(kind, lakes, model, many_at(depth)) for kind in kinds}
    children = np.random.SeedSequence(SEEDS[lakes]).spawn(campaigns)
    missing = [
        (number, kind)
        for number in range(campaigns)
        for kind, log in logs.items()
        if number not in log.rows
    ]
    sampler = ManySampler(MANY, at_once=at_once, max_tree_depth=depth)
    # The processor simulates and scores while the graphics processor samples.
    with ProcessPoolExecutor(cores, mp_context=get_context("spawn")) as pool:

        def begin(batch: Iterable[tuple[int, str]]) -> list[Future[World]]:
            return [
                pool.submit(world_of, kind, lakes, model, children[number])
                for number, kind in batch
            ]

        batches = list(batched(missing, at_once))
        coming = begin(batches[0] if batches else ())
        for place, batch in enumerate(batches):
            if clock.over:
                break
            worlds = {
                number_of(task): world.result() for task, world in zip(batch, coming, strict=True)
            }
            coming = begin(batches[place + 1]) if place + 1 < len(batches) else []
            began = time.perf_counter()

            def say(done: int, total: int, diverged: int, began: float = began) -> None:
                seconds = time.perf_counter() - began
                print(f"{model}: {done:,} of {total:,} draws, {seconds:.0f} s", flush=True)

            scored: dict[int, Future[Any]] = {}
            checks: dict[int, Future[dict[str, Any]]] = {}
            given = ((number, world.taken) for number, world in worlds.items())
            for found in sampler.sample(given, say):
                number = found.number
                world = worlds[number]
                scored[number] = pool.submit(answers_of, *sent(found), world.taken, world.truth)
                if number // len(KINDS) < checked:
                    checks[number] = pool.submit(checks_of, found)
            for task in batch:
                number = number_of(task)
                row: dict[str, Any] = {"truth": worlds[number].truth}
                row[CHAPMAN] = worlds[number].chapman
                row[model], row[f"{model}, sampling"] = scored[number].result()
                if number in checks:
                    row["checks"] = checks[number].result()
                logs[task[1]].add(task[0], row)
        for waiting in coming:
            waiting.cancel()


def sent(found: CampaignDraws) -> tuple[xr.Dataset, xr.Dataset]:
    """Return what scoring needs: no sampler coordinates, which are most of the draws."""
    posterior = found.posterior
    steps = [name for name in posterior.data_vars if str(name).endswith("_step")]
    return posterior.drop_vars(steps), found.tree["sample_stats"].to_dataset()


def checks_of(found: CampaignDraws) -> dict[str, Any]:
    """Return what the checks of the fit found, as `checks_power.py` keeps it."""
    groups = {
        "posterior": found.posterior,
        "quantities": found.quantities,
        "sample_stats": found.tree["sample_stats"].to_dataset(),
    }
    fit = Fit(found.campaign, found.spec, xr.DataTree.from_dict(groups), {"seed": found.number})
    return {
        result.name: {
            "outcome": result.outcome,
            "code": result.said.code.name,
            "tail": float(result.table["tail"].min()) if "tail" in result.table else None,
        }
        for result in fit.checks()
    }


def number_of(task: tuple[int, str]) -> int:
    """Return a number of its own for a campaign of a kind."""
    return task[0] * len(KINDS) + list(KINDS).index(task[1])


def many_at(depth: int) -> str:
    """Return the part that is sampled with trajectories of at most two to this power steps."""
    return f"many{depth}"


def log_of(kind: str, lakes: int, model: str, part: str) -> ResultsLog:
    """Return the log of a model in one part of the study, as in "1of2", or of `many_at`."""
    place = list(KINDS).index(kind)
    header = {
        "kind": kind,
        "lakes": lakes,
        "seed": SEEDS[lakes],
        "model": specification_text(model, lakes),
        "settings": (MANY if part.startswith("many") else SETTINGS).entry(),
    }
    name = f"messy_{lakes}_{MODELS.index(model)}_{place}_{part}.jsonl"
    return ResultsLog(kept_in(name), header)


def specification_text(model: str, lakes: int) -> dict[str, Any]:
    spec = specification(model, lakes)
    return {**spec.parts, **{name: prior.entry() for name, prior in spec.priors.items()}}


def rows_of(kind: str, lakes: int, parts: list[str]) -> list[dict[str, Any]]:
    """Return the campaigns of a kind, each with the answers of all models that were fitted."""
    found: dict[Any, dict[str, Any]] = {}
    for model in MODELS:
        for part in parts:
            for number, row in log_of(kind, lakes, model, part).rows.items():
                found.setdefault(number, {}).update(row)
    return [found[number] for number in sorted(found)]


def table(lakes: int, parts: list[str]) -> list[str]:
    """Lay out the scores of every kind and model."""
    lines = [
        "| kind | model | campaigns | 50 % | 80 % | 90 % | 95 % | ratio of 90 % ends "
        "| surer than 90 % below, wrong | above, wrong | log score | gain on every mark counts |",
        "| --- | --- |" + " ---: |" * 10,
    ]
    for kind in KINDS:
        rows = rows_of(kind, lakes, parts)
        if rows:
            lines += [
                line_of(kind, model, [row for row in rows if model in row])
                for model in (CHAPMAN, *MODELS)
                if any(model in row for row in rows)
            ]
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
        own = {lake: mine["log_score"] for lake, mine in enumerate(row[model]) if mine is not None}
        if own:
            score.append(np.mean(list(own.values())))
        if own and EVERY_MARK in row:
            plain = row[EVERY_MARK]
            gain.append(np.mean([mine - plain[lake]["log_score"] for lake, mine in own.items()]))
    error = np.std(gain, ddof=1) / np.sqrt(len(gain)) if len(gain) > 1 else np.nan
    ninety = np.median(ends[:, 6] / ends[:, 5])
    cells = [
        kind if model == CHAPMAN else "", model, str(len(rows)), *held, f"{ninety:.2f}", *wrong,
        f"{np.mean(score):.2f}",
        "–" if model == EVERY_MARK or not gain else f"{np.mean(gain):+.2f} ± {error:.2f}",
    ]  # fmt: skip
    return "| " + " | ".join(cells) + " |"


def sampling(lakes: int, parts: list[str]) -> list[str]:
    """Say how long sampling took, if one by one, and how often it went wrong, over all kinds."""
    rows = [row for kind in KINDS for row in rows_of(kind, lakes, parts)]
    lines = []
    for model in MODELS:
        went = [row[f"{model}, sampling"] for row in rows if model in row]
        diverged = sum(one["divergences"] > 0 for one in went)
        said = [f"{diverged} of {len(went)} campaigns with a divergence"]
        if seconds := [one["seconds"] for one in went if "seconds" in one]:
            said.append(f"{np.median(seconds):.2f} s of sampling (median)")
        if rhat := [one["rhat"] for one in went if "rhat" in one]:
            said.append(
                f"R-hat of the biomass left above 1.01 in {np.mean(np.array(rhat) > 1.01):.1%}, "
                f"above 1.05 in {np.mean(np.array(rhat) > 1.05):.1%}"
            )
        lines.append(f"{model}: " + "; ".join(said))
    return lines


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawTextHelpFormatter
    )
    parser.add_argument("--lakes", type=int, choices=sorted(SEEDS), default=1)
    parser.add_argument("--campaigns", type=int, default=200)
    parser.add_argument("--minutes", type=float, default=60.0, help="start nothing after so many")
    parser.add_argument("--part", default="1/1", help="which of how many processes this is")
    parser.add_argument("--kinds", nargs="*", choices=list(KINDS), default=list(KINDS))
    parser.add_argument("--models", nargs="*", choices=MODELS, default=list(MODELS))
    parser.add_argument("--many", action="store_true", help="all kinds together, with NumPyro")
    parser.add_argument("--at-once", type=int, default=1024, help="campaigns of a batch (--many)")
    parser.add_argument("--depth", type=int, default=5, help="trajectories of at most 2^N steps "
                        "(--many); each depth has logs of its own")  # fmt: skip
    parser.add_argument("--checked", type=int, default=0,
                        help="campaigns of a kind that are checked (--many)")  # fmt: skip
    parser.add_argument("--cores", type=int, default=os.cpu_count() or 1,
                        help="processes that simulate and score (--many)")  # fmt: skip
    parser.add_argument("--show", action="store_true", help="no runs, only the table")
    options = parser.parse_args()
    number, parts = (int(part) for part in options.part.split("/"))
    shown = [*(f"{one}of{parts}" for one in range(1, parts + 1)), many_at(options.depth)]
    if options.many and not options.show:
        for model in options.models:
            run_many(options.lakes, options.campaigns, options.minutes, options.kinds, model,
                     at_once=options.at_once, depth=options.depth, cores=options.cores,
                     checked=options.checked)  # fmt: skip
    elif not options.show:
        run(options.lakes, options.campaigns, options.minutes, (number, parts), options.kinds,
            options.models)  # fmt: skip
    print("\n".join([*table(options.lakes, shown), "", *sampling(options.lakes, shown)]))


if __name__ == "__main__":
    main()
