"""Whether the best split of a budget is better than an equal one, for truths it was not chosen by.

    python benchmarks/budget.py [worlds] [kind ...]

No fits: the posterior of a lake is made up, and so is known. A world has six lakes and 24 field
days of two pulls. Biomass density is log-normal with log sd 0.15 to 0.35 (uniform), the share that
a pull takes log-normal with log sd 0.25, schooling 0.6, fish weigh 2 kg, thresholds are 100 kg/ha.
Kinds of worlds: in ``unlike`` ones median densities are 100 kg/ha times a log-normal of log mean
0.25 and log sd 0.4, median shares 0.03 times one of log sd 0.4, and areas 30 ha times one of log sd
0.6; in ``alike`` ones all lakes have 130 kg/ha, 0.03, 30 ha and a log sd of 0.25.

A split is chosen by 4 chains of 250 or of 1,000 independent draws, as `fishdown budget` does, with
either aim. Then 8,000 fresh truths are drawn from the same posteriors and their pulls played out;
both splits meet the same truths and the same pulls. Targets, written down before the first run:

1. unlike: the best split leaves at least 0.10 lakes more below than the equal one (aim: lakes), and
   fewer kg above (aim: biomass), each by more than three standard errors over worlds;
2. alike: it leaves no more than 0.05 lakes fewer below than the equal one;
3. where the equal split is told apart from the best, the best is truly better in 95 % of worlds;
4. with 4,000 draws the lead is overstated on average by no more than one of its Monte-Carlo errors.

Seed 20263.
"""

from __future__ import annotations

import sys
from itertools import product
from typing import TYPE_CHECKING

import numpy as np

from fishdown.decisions.budget_lakes import LakeDays, behind
from fishdown.decisions.budget_splits import Splits
from fishdown.decisions.simulation import catches

if TYPE_CHECKING:
    from fishdown.decisions.budget_lakes import Aim
    from fishdown.typing import FloatArray

SEED, LAKES, DAYS, PULLS_A_DAY = 20263, 6, 24, 2
THRESHOLD, FISH_KG, SCHOOLING = 100.0, 2.0, 0.6
TRUTHS = (4, 2_000)
KINDS = ("unlike", "alike")


def world(kind: str, rng: np.random.Generator) -> list[dict[str, float]]:
    """Draw what is known of each lake: medians and log sd of its density, share of a pull, ha."""
    if kind == "alike":
        return [{"density": 130.0, "sd": 0.25, "share": 0.03, "area": 30.0}] * LAKES
    return [
        {
            "density": 100.0 * rng.lognormal(0.25, 0.4),
            "sd": rng.uniform(0.15, 0.35),
            "share": 0.03 * rng.lognormal(0.0, 0.4),
            "area": 30.0 * rng.lognormal(0.0, 0.6),
        }
        for _ in range(LAKES)
    ]


def played(known: dict[str, float], shape: tuple[int, int], rng: np.random.Generator) -> LakeDays:
    """Draw a lake and its pulls."""
    size, pulls = shape[0] * shape[1], DAYS * PULLS_A_DAY
    density = known["density"] * rng.lognormal(0.0, known["sd"], size)
    share = np.minimum(known["share"] * rng.lognormal(0.0, 0.25, size), 0.9)
    fish = np.rint(density * known["area"] / FISH_KG)
    hazard = np.repeat(-np.log1p(-share)[:, None], pulls, axis=1)
    taken = np.cumsum(catches(fish, hazard, np.full(hazard.shape, SCHOOLING), rng), axis=1)
    after = np.concatenate([np.zeros((size, 1)), taken[:, PULLS_A_DAY - 1 :: PULLS_A_DAY]], axis=1)
    biomass: FloatArray = (fish[:, None] - after) * FISH_KG / known["area"]
    return LakeDays(
        lake="", season="", threshold=THRESHOLD, area=known["area"], pulls_a_day=PULLS_A_DAY,
        cost_a_day=np.nan, most=DAYS, failure="", reason="", later_year=False, colder=False,
        catch=after.reshape(*shape, -1), biomass=biomass.reshape(*shape, -1),
    )  # fmt: skip


def leads(
    kind: str, draws: int, aim: Aim, rng: np.random.Generator
) -> tuple[float, float, float, bool]:
    """Return the lead as stated, its error, the lead by fresh truths, whether it was told."""
    known = world(kind, rng)
    chosen_by = tuple(played(lake, (4, draws), rng) for lake in known)
    splits = Splits(chosen_by, DAYS, None, aim, "", seed=1)
    stated, error = splits.behind(splits.equal)
    fresh = [played(lake, TRUTHS, rng).aimed(aim) for lake in known]
    true, _ = behind(fresh, (splits.best, splits.best), splits.equal)
    return stated, error, true, splits.told_apart(splits.equal)


def main() -> None:
    """Print a row for each kind of world, number of draws and aim."""
    worlds = int(sys.argv[1]) if len(sys.argv) > 1 else 100
    kinds = sys.argv[2:] or KINDS
    print("| worlds | draws | aim | lead stated | its error | true lead | told | of these better |")
    print("| --- | ---: | --- | ---: | ---: | ---: | ---: | ---: |")
    for place, (kind, draws, aim) in enumerate(product(KINDS, (250, 1_000), ("lakes", "biomass"))):
        if kind not in kinds:
            continue
        rng = np.random.default_rng([SEED, place])
        found = [leads(kind, draws, aim, rng) for _ in range(worlds)]
        stated, error, true, told = (np.array(column) for column in zip(*found, strict=True))
        better = f"{100.0 * (true[told] > 0.0).mean():.0f} %" if told.any() else "–"
        print(
            f"| {kind} | {4 * draws:,} | {aim} | {stated.mean():.3f} | {error.mean():.3f} | "
            f"{true.mean():.3f} ± {true.std(ddof=1) / np.sqrt(worlds):.3f} | "
            f"{told.sum()} of {worlds} | {better} |",
            flush=True,
        )


if __name__ == "__main__":
    main()
