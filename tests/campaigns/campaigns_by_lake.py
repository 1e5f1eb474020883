"""Published records as ordinary campaigns, and what a fit says of one lake of them."""

from __future__ import annotations

import csv
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from arviz_stats.base import array_stats
from field_records import daily_pulls, write_folder

import fishdown

if TYPE_CHECKING:
    import pandas as pd

PUBLISHED = Path(__file__).parents[1] / "published"


def published_rows(file: str) -> list[dict[str, str]]:
    """Read a file of `tests/published`; its sources are in SOURCES.md there."""
    with (PUBLISHED / file).open(newline="", encoding="utf-8") as opened:
        return list(csv.DictReader(opened))


def example_numbers(name: str) -> dict[str, list[int]]:
    """Read the data of one published example, for instance 'C=10 27 17; R=0 0 0'."""
    (row,) = (row for row in published_rows("published_examples.csv") if row["id"] == name)
    found = {}
    for part in row["data"].split(";"):
        key, is_data, numbers = part.partition("=")
        if is_data:  # "effort 7 each" is for people
            found[key.strip()] = [int(number) for number in numbers.split()]
    return found


def mack_creek_catches() -> dict[str, tuple[int, int]]:
    """Return both passes of every complete reach-year of Mack Creek, '1987 CC L' and so on."""
    counts: dict[str, dict[str, str]] = {}
    for row in published_rows("and_mack_cutthroat_pass_counts.csv"):
        reach = f"{row['year']} {row['section']} {row['reach']}"
        counts.setdefault(reach, {})[row["pass"]] = row["trout_count"]
    return {reach: (int(c["1"]), int(c["2"])) for reach, c in counts.items() if c["2"]}


def campaign_of_passes(
    folder: Path, passes: Mapping[str, Sequence[int]], areas: Mapping[str, float] | None = None
) -> fishdown.Campaign:
    """Write each row of catches as a lake of its own, one pull a day, and read the folder."""
    areas = areas or {}
    return fishdown.read(
        write_folder(
            folder,
            species="fish",
            lakes=[{"lake": lake, "area_ha": areas.get(lake, 1.0)} for lake in passes],
            pulls=[row for lake, catches in passes.items() for row in daily_pulls(lake, catches)],
        )
    )


def season_draws(fit: fishdown.Fit, lake: str, quantity: str = "abundance_before") -> np.ndarray:
    """Return the draws of a lake with one season, shape (chain, draw)."""
    (season,) = np.flatnonzero(fit.campaign.seasons["lake"].values == lake)
    return fit.quantities[quantity].isel(season=season).values


def by_lake(estimates: pd.DataFrame, quantity: str = "abundance_before") -> pd.DataFrame:
    """Return the rows of one quantity, by lake."""
    return estimates[estimates["quantity"] == quantity].set_index("lake")


def four_errors(share: float, draws: np.ndarray) -> float:
    """Return four Monte-Carlo standard errors of a share of the draws.

    A sound sampler is off by more than four once in 16,000 comparisons; the tests make some 1,000.
    """
    effective = float(array_stats.ess(draws, method="bulk"))
    return 4.0 * float(np.sqrt(share * (1.0 - share) / effective))


def assert_draws_have_quantile(draws: np.ndarray, number: float, share: float) -> None:
    """Check that a number of fish is the exact posterior's quantile among the draws too.

    Allowed are the Monte-Carlo error and one fish: half a fish because a whole number n stands for
    the stretch from n − ½ to n + ½ of the sampled scale, another half because that scale opens half
    a fish below the fewest fish that the records allow, where no pull can be followed exactly.
    """
    error = four_errors(share, draws)
    said: Any = (number, share, np.quantile(draws, share))
    assert (draws <= number + 1.0).mean() >= share - error, said
    assert (draws < number - 1.0).mean() <= share + error, said
