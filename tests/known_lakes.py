"""Lakes known for certain: all draws of a posterior the same, and records drawn from them."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace

import numpy as np

import fishdown
from fishdown.checks.result import FALSE_ALARM, CheckResult
from fishdown.models.data import model_data
from fishdown.posterior.at_draws import DrawnLakes


def lakes_of(
    campaign: fishdown.Campaign, fish: float, hazard: float, draws: int = 400
) -> DrawnLakes:
    """Say for certain how many fish there are and what each pull takes, by plain chance."""
    spec = fishdown.read_model("few_passes").with_parts(weights="none")
    data = model_data(campaign, spec)
    seasons, pulls = len(data.counts.bound), len(data.catches.caught)
    return DrawnLakes(
        data=data,
        hazard=np.full((draws, pulls), hazard),
        vulnerable_fish=np.full((draws, seasons), fish),
        share=np.ones((draws, seasons)),
        carried=np.zeros((draws, seasons)),
    )


def with_recaptures(lakes: DrawnLakes, recaptured: np.ndarray) -> DrawnLakes:
    """Return the lakes with other marked fish in the examined catches."""
    counts = lakes.data.counts
    examined = replace(counts.examined, recaptured=recaptured.astype(float))
    return replace(lakes, data=replace(lakes.data, counts=replace(counts, examined=examined)))


def with_catches(lakes: DrawnLakes, caught: np.ndarray) -> DrawnLakes:
    """Return the lakes with other catches; the fish before each pull stay."""
    catches = replace(lakes.data.catches, caught=caught.astype(float))
    return replace(lakes, data=replace(lakes.data, catches=catches))


def assert_calibrated(check: Callable[[], CheckResult | None], tries: int = 200) -> None:
    """See that a check of records drawn from the lakes has small tails as often as it says."""
    results = list(_some(check, tries))
    tables = [result.table.query("season != 'all'") for result in results]
    tails = np.array([table["tail"].min() for table in tables])
    seasons = np.array([len(table) for table in tables])
    failed = np.mean([result.outcome == "not passed" for result in results])
    # Four standard errors of a share of tries. Ties make discrete statistics conservative.
    assert failed <= FALSE_ALARM + 4.0 * np.sqrt(FALSE_ALARM / tries)
    wanted = 1.0 - 0.8 ** seasons.mean()
    small = np.mean(tails < 0.2)
    assert abs(small - wanted) < 4.0 * np.sqrt(wanted * (1.0 - wanted) / tries)


def _some(check: Callable[[], CheckResult | None], tries: int) -> Iterator[CheckResult]:
    for _ in range(tries):
        result = check()
        assert result is not None
        yield result
