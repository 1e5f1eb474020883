"""Sample a model until the quality gate is passed, or the retries are spent."""

from __future__ import annotations

import time
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from fishdown.equality import by_value
from fishdown.models.data import model_data
from fishdown.posterior.quality import Quality, judge
from fishdown.posterior.quantities import reported_quantities
from fishdown.posterior.sampling import Sampler, SamplerSettings
from fishdown.words import counted

if TYPE_CHECKING:
    from collections.abc import Callable

    import xarray as xr

    from fishdown.campaign import Campaign
    from fishdown.models.spec import ModelSpec

    type Progress = Callable[[int, int, int], None]

RETRIES = 2


@dataclass(frozen=True)
class Attempt:
    """One run of the sampler and how it went."""

    settings: SamplerSettings
    sample_seconds: float
    quality: dict[str, float | int | bool]

    def entry(self) -> dict[str, Any]:
        """Return the attempt as plain values for the record of a fit."""
        return {
            **self.settings.entry(),
            "sample_seconds": round(self.sample_seconds, 3),
            **self.quality,
        }


@by_value
@dataclass(frozen=True)
class Sampled:
    """A sampled model: its draws, the reported quantities, and how it went, attempt by attempt."""

    tree: xr.DataTree
    quantities: xr.Dataset
    quality: Quality
    attempts: tuple[Attempt, ...]
    compile_seconds: float

    def entry(self) -> dict[str, Any]:
        """Return all attempts as plain values for the record of a fit."""
        seconds = sum(attempt.sample_seconds for attempt in self.attempts)
        return {
            "attempts": [attempt.entry() for attempt in self.attempts],
            "quality_gate": self.quality.entry(),
            "compile_seconds": round(self.compile_seconds, 3),
            "sample_seconds": round(seconds, 3),
        }


def sample_well(
    campaign: Campaign,
    spec: ModelSpec,
    settings: SamplerSettings,
    on_progress: Progress | None,
    on_retry: Callable[[str], None] | None,
    which: str = "",
) -> Sampled:
    """Compile once and sample until the quality gate is passed or the retries are spent."""
    from fishdown.models.graph import build

    graph = build(spec, model_data(campaign, spec), campaign.coords)
    sampler = Sampler(graph, settings.sampler)
    attempts: list[Attempt] = []
    while True:
        started = time.perf_counter()
        tree = sampler.sample(settings, on_progress)
        seconds = time.perf_counter() - started
        quantities = reported_quantities(tree["posterior"].to_dataset(), campaign, spec)
        quality = judge(quantities, tree["sample_stats"].to_dataset())
        attempts.append(Attempt(settings, seconds, quality.entry()))
        if quality.passed or len(attempts) > RETRIES:
            return Sampled(tree, quantities, quality, tuple(attempts), sampler.compile_seconds)
        settings = settings.harder()
        if on_retry is not None:
            on_retry(f"{which}: {_reason(quality)}" if which else _reason(quality))


def _reason(quality: Quality) -> str:
    figures = quality.entry()
    return (
        f"{counted(int(figures['divergences']), 'divergence')}, "
        f"largest R-hat {figures['largest_rhat']:.3f}, "
        f"smallest ESS {min(figures['smallest_ess_bulk'], figures['smallest_ess_tail']):.0f}"
    )
