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
from messy_models import (
    CHAPMAN,
    MANY,
    MODELS,
    SEEDS,
    TOLD,
    Study,
    classical,
    log_of,
    many_at,
    scores,
    specification,
)
from messy_table import sampling, table
from messy_worlds import KINDS, campaign_of, with_marks_told
from trials import SETTINGS, Clock

from fishdown.api.fit import Fit
from fishdown.campaign import Campaign
from fishdown.models.data import fitting_spec, model_data
from fishdown.models.graph import build
from fishdown.posterior.many import CampaignDraws, ManySampler, Prepared, prepare
from fishdown.posterior.quality import judge
from fishdown.posterior.quantities import reported_quantities
from fishdown.posterior.sampling import Sampler


class Compiled:
    """A model compiled once, and fed with campaign after campaign."""

    def __init__(self, model: str, campaign: Campaign) -> None:
        lakes = campaign.lakes.sizes["lake"]
        self.spec, _ = fitting_spec(campaign, specification(model, lakes))
        data = model_data(campaign, self.spec)
        self._sampler = Sampler(build(self.spec, data, campaign.coords), "nutpie")

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


def run(
    study: Study,
    campaigns: int,
    minutes: float,
    part: tuple[int, int],
    kinds: list[str],
    models: list[str],
) -> None:
    """Fit the campaigns of all kinds that are still missing, kind by kind in turn."""
    clock = Clock(minutes)
    logs = {
        (kind, model): log_of(kind, study, model, f"{part[0]}of{part[1]}")
        for kind in kinds
        for model in models
    }
    compiled: dict[str, Compiled] = {}
    lakes, children = study.lakes, study.children(campaigns)
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
    study: Study,
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
    logs = {kind: log_of(kind, study, model, many_at(depth)) for kind in kinds}
    children = study.children(campaigns)
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
                pool.submit(world_of, kind, study.lakes, model, children[number])
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


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawTextHelpFormatter
    )
    parser.add_argument("--round", type=int, choices=list(SEEDS), default=3)
    parser.add_argument("--lakes", type=int, default=1)
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
    seeds = SEEDS[options.round]
    if options.lakes not in seeds:
        parser.error(f"--lakes {options.lakes}: round {options.round} has {list(seeds)}")
    study = Study(options.lakes, seeds[options.lakes])
    number, parts = (int(part) for part in options.part.split("/"))
    shown = [*(f"{one}of{parts}" for one in range(1, parts + 1)), many_at(options.depth)]
    if options.many and not options.show:
        for model in options.models:
            run_many(study, options.campaigns, options.minutes, options.kinds, model,
                     at_once=options.at_once, depth=options.depth, cores=options.cores,
                     checked=options.checked)  # fmt: skip
    elif not options.show:
        run(study, options.campaigns, options.minutes, (number, parts), options.kinds,
            options.models)  # fmt: skip
    print("\n".join([*table(study, shown), "", *sampling(study, shown)]))


if __name__ == "__main__":
    main()
