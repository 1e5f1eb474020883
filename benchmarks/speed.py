"""What the engine and the density are worth: ratios, measured side by side in one run.

    python benchmarks/speed.py --lakes 6 --repeats 3

Effective draws per second of the worst abundance while sampling (compiling apart), as a ratio to
fishdown's default, on one simulated campaign. "No telescoping" keeps every pull's factorials;
"PyMC" is PyMC's own sampler on the same graph. Results are kept in RESULTS.md.
"""

from __future__ import annotations

import argparse
import time
from dataclasses import replace

import arviz_stats
import numpy as np
from recovery import draw_world

import fishdown
from fishdown.campaign import Campaign
from fishdown.models.data import ModelData, fitting_spec, model_data
from fishdown.models.graph import build
from fishdown.models.parts.counting.season import SeasonPulls, season_terms
from fishdown.models.parts.marks.release_groups import groups_of_season
from fishdown.posterior.sampling import Sampler, SamplerSettings
from fishdown.worlds import simulate

MARKS = ("recaptured", "at_large", "removed")


def without_telescoping(campaign: Campaign, data: ModelData) -> ModelData:
    """Keep the factorials of every pull by itself."""
    columns: dict[str, list[np.ndarray]] = {name: [] for name in ("season", "offset", "weight")}
    for season in range(campaign.seasons.sizes["season"]):
        pulls = campaign.season_pulls(season)
        groups = groups_of_season(campaign, season, apart=False)
        start = float(data.counts.marks_at_start[season])
        for pull in range(pulls.sizes["pull"]):
            one = pulls.isel(pull=[pull])
            names = ("caught", "examined", "gone_before", "spoiled")
            columns_of = (one[name].values for name in names)
            marks = {name: getattr(groups, name)[:, [pull]] for name in MARKS}
            terms = season_terms(SeasonPulls(*columns_of, gone=0.0), replace(groups, **marks))
            # Each pull by itself starts from its own marks at large.
            columns["offset"].append(terms.offsets + terms.marks_at_start.sum() - start)
            columns["weight"].append(terms.weights)
            columns["season"].append(np.full(len(terms.weights), season))
    arrays = {name: np.concatenate(parts) for name, parts in columns.items()}
    count = len(arrays["weight"])
    counts = replace(
        data.counts,
        entry_term=np.arange(count),
        entry_unknown=arrays["season"].astype(np.int64),
        entry_coefficient=np.ones(count),
        term_offset=arrays["offset"],
        term_weight=arrays["weight"],
    )
    return replace(data, counts=counts)


def rate(sampler: Sampler, settings: SamplerSettings) -> float:
    """Return effective draws of the worst abundance per second of sampling."""
    started = time.perf_counter()
    tree = sampler.sample(settings)
    seconds = time.perf_counter() - started
    worst = arviz_stats.ess(tree["posterior"].to_dataset()[["abundance"]])["abundance"].min()
    return float(worst) / seconds


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawTextHelpFormatter
    )
    parser.add_argument("--lakes", type=int, default=6)
    parser.add_argument("--repeats", type=int, default=3)
    options = parser.parse_args()
    rng = np.random.default_rng(11)
    campaign, _ = simulate(draw_world(rng, options.lakes), rng)
    spec, _ = fitting_spec(campaign, fishdown.read_model("pooled_lakes"))
    data = model_data(campaign, spec)
    plain = without_telescoping(campaign, data)
    samplers = {
        "default (nutpie, telescoped)": Sampler(build(spec, data, campaign.coords), "nutpie"),
        "no telescoping": Sampler(build(spec, plain, campaign.coords), "nutpie"),
        "PyMC's own sampler": Sampler(build(spec, data, campaign.coords), "pymc"),
    }
    print(f"{options.lakes} lakes, {campaign.pulls.sizes['pull']} pulls")
    rates: dict[str, list[float]] = {name: [] for name in samplers}
    for repeat in range(options.repeats):
        for name, sampler in samplers.items():
            rates[name].append(rate(sampler, SamplerSettings(seed=repeat)))
    first = np.array(next(iter(rates.values())))
    for name, found in rates.items():
        ratios = np.array(found) / first
        print(
            f"| {name} | {np.median(found):.0f} draws/s | ratio {np.median(ratios):.2f} "
            f"({ratios.min():.2f}–{ratios.max():.2f}) |"
        )


if __name__ == "__main__":
    main()
