"""Coverage of the intervals of the bycatch in invented campaigns.

    python benchmarks/bycatch_coverage.py [--campaigns 60]

Written down before the first run: the worlds below, seeds (world's place, campaign's number), and
the target that 80 to 98 % of the 90 % intervals hold the truth in the worlds `as_supposed`, `even`,
`clumped`, `one_lake` and `rare`. The last three break an assumption on purpose, and have no target:
`together` and `apart` let the bycatch of a pull come with the removed fish, or keep away from them;
in `shoal` one pull in a hundred has a shoal of a hundred times the usual catch.

Held are, for each species: the rate of each season of a lake and of all lakes together (truth: the
mean of the pulls as they were made), the share of all fish of all lakes, the dead share of seasons
with fish, the fish and the dead fish that twenty more pulls in each lake really bring, and for
limits (half, once, twice the true mean of what comes, in turn) how often they were exceeded beside
the mean probability stated.
"""

from __future__ import annotations

import argparse
import tempfile
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import pandas as pd

from fishdown.bycatch_rates.estimates import estimate_bycatch
from fishdown.campaign import read
from fishdown.statements.bycatch import by_species
from fishdown.statements.bycatch_limits import PullsToCome, against_limits

MORE = 20
LIMITS = (0.5, 1.0, 2.0)


@dataclass(frozen=True)
class World:
    """How bycatch comes about."""

    lakes: int = 3
    nights: int = 10  # two weeks apart from 1 May, so over five months
    nets: int = 3
    means: tuple[float, ...] = (2.0, 0.5, 0.1)
    clumping: float = 0.6
    lake_sd: float = 0.5
    month_sd: float = 0.3
    dead: float = 0.05
    dead_in_season: float = 0.02
    dead_in_row: float = 0.1
    target: float = 60.0
    target_clumping: float = 2.0
    with_target: float = 0.0  # power of the removed fish's luck in that of the bycatch
    shoals: float = 0.0


WORLDS = {
    "as_supposed": World(),
    "even": World(clumping=20.0, lake_sd=0.02, month_sd=0.02, dead_in_row=0.01),
    "clumped": World(clumping=0.15, lake_sd=1.2, dead_in_row=0.4),
    "one_lake": World(lakes=1, nights=4, month_sd=0.1),
    "rare": World(means=(0.03, 0.02, 0.01)),
    "together": World(with_target=1.0, clumping=2.0),
    "apart": World(with_target=-0.5, clumping=2.0),
    "shoal": World(shoals=0.01),
}


def correlated(mean: float, correlation: float, rng: np.random.Generator) -> float:
    size = 1.0 / correlation - 1.0
    return float(rng.beta(mean * size, (1.0 - mean) * size))


class Nature:
    """The truth of one campaign, and catches drawn from it."""

    def __init__(self, world: World, rng: np.random.Generator) -> None:
        self.world, self.rng = world, rng
        species, lakes = len(world.means), world.lakes
        self.lake = rng.normal(0.0, world.lake_sd, (lakes, species))
        self.month = rng.normal(0.0, world.month_sd, (13, species))
        self.dead = [
            [correlated(world.dead, world.dead_in_season, rng) for _ in range(species)]
            for _ in range(lakes)
        ]

    def mean(self, lake: int, month: int) -> np.ndarray:
        """Fish a pull of each species, shoals and luck included."""
        world = self.world
        level = np.array(world.means) * np.exp(self.lake[lake] + self.month[month])
        # E[g^p] of a gamma variable g of mean 1.
        k, p = world.target_clumping, world.with_target
        luck = np.exp(_log_gamma(k + p) - _log_gamma(k) - p * np.log(k))
        return np.asarray(level * luck * (1.0 + 99.0 * world.shoals))

    def pull(self, lake: int, month: int) -> tuple[int, np.ndarray, np.ndarray]:
        """Catch: fish removed, bycatch and dead of each species."""
        world, rng = self.world, self.rng
        luck = rng.gamma(world.target_clumping, 1.0 / world.target_clumping)
        target = rng.poisson(world.target * luck)
        level = np.array(world.means) * np.exp(self.lake[lake] + self.month[month])
        level = level * luck**world.with_target
        level = level * np.where(rng.uniform(size=len(level)) < world.shoals, 100.0, 1.0)
        caught = rng.poisson(level * rng.gamma(world.clumping, 1.0 / world.clumping, len(level)))
        dead = [
            rng.binomial(count, correlated(share, world.dead_in_row, rng)) if count else 0
            for count, share in zip(caught, self.dead[lake], strict=True)
        ]
        return int(target), caught, np.array(dead)


def _log_gamma(value: float) -> float:
    from scipy.special import gammaln

    return float(gammaln(value))


def one(world: World, seed: Sequence[int], folder: Path) -> list[tuple[str, float, float]]:
    """Simulate and estimate one campaign; return what was held or stated."""
    rng = np.random.default_rng(seed)
    nature = Nature(world, rng)
    lakes = [f"Lake {place}" for place in range(world.lakes)]
    species = [f"species {place}" for place in range(len(world.means))]
    rows: dict[str, list[dict[str, object]]] = defaultdict(list)
    rows["lakes"] = [{"lake": lake, "area_ha": 50} for lake in lakes]
    true = np.zeros((world.lakes, len(species)))
    for place, lake in enumerate(lakes):
        for night in range(world.nights):
            day = pd.Timestamp("2025-05-01") + pd.Timedelta(days=14 * night)
            for net in range(world.nets):
                target, caught, dead = nature.pull(place, day.month)
                true[place] += nature.mean(place, day.month)
                at = {"date": day.date(), "lake": lake, "net": f"net {net}"}
                rows["pulls"].append({**at, "caught": target, "bycatch_counted": "yes"})
                rows["bycatch"] += [
                    {**at, "species": name, "count": count, "dead": died}
                    for name, count, died in zip(species, caught, dead, strict=True)
                    if count
                ]
    true /= world.nights * world.nets
    more = np.zeros(len(species))
    more_dead = np.zeros(len(species))
    expected = np.zeros(len(species))
    for place in range(world.lakes):
        for _ in range(MORE):
            _, caught, dead = nature.pull(place, day.month)
            more, more_dead = more + caught, more_dead + dead
        expected += MORE * nature.mean(place, day.month)
    # The limits follow from the truth, not from the records.
    so_far = pd.DataFrame(rows["bycatch"], columns=["species", "count", "dead"])
    so_far = so_far.groupby("species")[["count", "dead"]].sum().reindex(species, fill_value=0)
    for place, name in enumerate(species):
        times = LIMITS[seed[-1] % len(LIMITS)]
        limit = int(so_far["count"].iloc[place] + times * expected[place])
        rows["bycatch_limits"].append(_limit(name, limit, "all"))
        rows["bycatch_limits"].append(_limit(name, 10_000, "dead"))
    _write(folder, rows)
    found = estimate_bycatch(read(folder), seed=seed[-1] + 1)
    table = by_species(found).set_index(["lake", "species"])
    held: list[tuple[str, float, float]] = []

    def hold(what: str, row: pd.Series, name: str, truth: float) -> None:
        if not np.isnan(row[f"{name}_low"]):
            inside = row[f"{name}_low"] <= truth <= row[f"{name}_high"]
            held.append((what, float(inside), float(truth < row[f"{name}_low"])))

    whole = true.mean(axis=0)
    for number, name in enumerate(species):
        for place, lake in enumerate(lakes):
            if (lake, name) in table.index:
                row = table.loc[lake, name]
                hold("rate of a lake", row, "per_pull", true[place, number])
                hold("dead share", row, "dead_share", nature.dead[place][number])
        every = "all lakes" if world.lakes > 1 else lakes[0]
        if (every, name) in table.index:
            row = table.loc[every, name]
            if not np.isnan(row["per_pull_median"]):
                hold("rate of all lakes", row, "per_pull", whole[number])
                hold(
                    "share of all fish", row, "share", whole[number] / (world.target + whole.sum())
                )
        if so_far["count"].iloc[number] == 0:
            bound = table.loc["all lakes", name]["per_pull_high"]
            held.append(("bound, never counted", float(whole[number] <= bound), 0.0))
    ahead = against_limits(found, PullsToCome(MORE))
    for row in ahead.itertuples():
        number = species.index(row.species)
        if np.isnan(row.probability_above):
            continue
        brought = more_dead[number] if row.fish == "dead" else more[number]
        total = row.counted + brought
        inside = float(row.total_low <= total <= row.total_high)
        under = float(total < row.total_low)
        if row.fish == "dead":
            held.append(("dead of more pulls", inside, under))
        else:
            held.append(("limit", float(total > row.limit), row.probability_above))
            held.append(("fish of more pulls", inside, under))
    return held


def _limit(species: str, limit: int, fish: str) -> dict[str, object]:
    return {"species": species, "lake": "all", "limit": limit, "fish": fish}


def _write(folder: Path, rows: dict[str, list[dict[str, object]]]) -> None:
    (folder / "campaign.toml").write_text(
        'title = "Invented"\nspecies = "common carp"\n', encoding="utf-8"
    )
    for name, table in rows.items():
        if table:
            pd.DataFrame(table).to_csv(folder / f"{name}.csv", index=False)


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--campaigns", type=int, default=60)
    parser.add_argument("--only", choices=WORLDS)
    options = parser.parse_args()
    for place, (name, world) in enumerate(WORLDS.items()):
        if options.only not in (None, name):
            continue
        told: dict[str, list[tuple[float, float]]] = defaultdict(list)
        for number in range(options.campaigns):
            with tempfile.TemporaryDirectory() as folder:
                for what, value, other in one(replace(world), (place, number), Path(folder)):
                    told[what].append((value, other))
        for what in sorted(told):
            values = np.array(told[what])
            if what == "limit":
                print(
                    f"{name} | limits exceeded | {values[:, 0].mean():.2f} | "
                    f"stated {values[:, 1].mean():.2f} | {len(values)}"
                )
            else:
                print(
                    f"{name} | {what} | {values[:, 0].mean():.2f} | "
                    f"below {values[:, 1].mean():.2f} | {len(values)}"
                )


if __name__ == "__main__":
    main()
