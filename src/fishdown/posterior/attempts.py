"""Compile a model once, and sample it until the quality gate is passed or the retries are spent."""

from __future__ import annotations

import time
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import xarray as xr

from fishdown.equality import by_value
from fishdown.models.data import model_data, step_coords
from fishdown.posterior.quality import Quality, judge
from fishdown.posterior.quantities import reported_quantities
from fishdown.posterior.sampling import Sampler, SamplerSettings
from fishdown.words import counted

if TYPE_CHECKING:
    from collections.abc import Callable

    from fishdown.campaign import Campaign
    from fishdown.models.data import ModelData
    from fishdown.models.spec import ModelSpec
    from fishdown.posterior.sampling import SamplerName
    from fishdown.typing import Numbers

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


class Compiled:
    """The model of a campaign, compiled once.

    Parameters
    ----------
    campaign : Campaign
    spec : ModelSpec
        Already fitted to the campaign by `fitting_spec`.
    sampler : {"nutpie", "pymc", "numpyro"}

    Attributes
    ----------
    data : ModelData
        The campaign's arrays.
    seconds : float
        Spent on compiling.
    """

    def __init__(self, campaign: Campaign, spec: ModelSpec, sampler: SamplerName) -> None:
        from fishdown.models.graph import build

        self._campaign, self._spec = campaign, spec
        self.data = data = model_data(campaign, spec)
        self._own = step_coords(data, spec)
        # Machine code on disk serves a season as it grows.
        steps = step_coords(data, spec, to_spare=sampler == "nutpie")
        self._sampler = Sampler(build(spec, data, {**campaign.coords, **steps}), sampler)
        self.seconds = self._sampler.compile_seconds

    def feed(self, data: ModelData[Numbers], spec: ModelSpec) -> None:
        """Put other arrays of the same pulls in place, of which a simpler model tells as much."""
        self._sampler.feed(data)
        self._spec = spec
        self.seconds = 0.0

    def sample(
        self, settings: SamplerSettings, on_progress: Progress | None
    ) -> tuple[xr.DataTree, xr.Dataset]:
        """Return draws, and the reported quantities."""
        tree = self._sampler.sample(settings, on_progress)
        found = tree["posterior"].to_dataset()
        for dim, labels in self._own.items():
            if dim in found.dims:
                found = found.isel({dim: slice(len(labels))}).assign_coords({dim: labels})
        tree["posterior"] = xr.DataTree(found)
        return tree, reported_quantities(found, self._campaign, self._spec)


def sample_well(
    compiled: Compiled,
    settings: SamplerSettings,
    on_progress: Progress | None,
    on_retry: Callable[[str], None] | None,
    which: str = "",
) -> Sampled:
    """Sample until the quality gate is passed or the retries are spent."""
    attempts: list[Attempt] = []
    while True:
        started = time.perf_counter()
        tree, quantities = compiled.sample(settings, on_progress)
        seconds = time.perf_counter() - started
        quality = judge(quantities, tree["sample_stats"].to_dataset())
        attempts.append(Attempt(settings, seconds, quality.entry()))
        if quality.passed or len(attempts) > RETRIES:
            return Sampled(tree, quantities, quality, tuple(attempts), compiled.seconds)
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
