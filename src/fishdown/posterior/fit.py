"""Fit a campaign: build, compile, sample, judge, and try harder where that is called for."""

from __future__ import annotations

import time
from dataclasses import dataclass
from functools import cached_property
from importlib.metadata import version
from typing import TYPE_CHECKING, Any

import xarray as xr

from fishdown.models.data import fitting_spec, model_data
from fishdown.models.parameters import PARAMETERS
from fishdown.posterior.choice import choose_model
from fishdown.posterior.quality import Quality, judge
from fishdown.posterior.quantities import reported_quantities
from fishdown.posterior.sampling import Sampler, SamplerSettings

if TYPE_CHECKING:
    import os
    from collections.abc import Callable
    from pathlib import Path

    import pandas as pd

    from fishdown.campaign import Campaign
    from fishdown.models.spec import ModelSpec

    type Progress = Callable[[int, int, int], None]

RETRIES = 2
LIBRARIES = (
    "fishdown",
    "pymc",
    "pytensor",
    "nutpie",
    "arviz",
    "numba",
    "numpy",
    "xarray",
    "pandas",
)


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


@dataclass(frozen=True)
class Fit:
    """A fitted campaign.

    Attributes
    ----------
    campaign : Campaign
        The records that were fitted.
    spec : ModelSpec
        The model, less the parts that the records could not feed.
    tree : xarray.DataTree
        Groups ``posterior`` (free variables), ``quantities`` (the reported ones),
        ``sample_stats`` and ``campaign``.
    run : dict
        Seed, versions, input hashes, attempts, wall times: what `run.json` holds.
    """

    campaign: Campaign
    spec: ModelSpec
    tree: xr.DataTree
    run: dict[str, Any]

    def __repr__(self) -> str:
        """Say what was fitted, and whether it may be spoken about."""
        gate = "passed" if self.quality.passed else "FAILED"
        return f"<Fit of {self.campaign!r} by {self.spec.name}: quality gate {gate}>"

    @property
    def quantities(self) -> xr.Dataset:
        """Draws of the reported quantities, dimensions (chain, draw, season)."""
        return self.tree["quantities"].dataset

    @cached_property
    def quality(self) -> Quality:
        """Convergence of the reported quantities, by which statements are let through."""
        return judge(self.quantities, self.tree["sample_stats"].dataset)

    def verdicts(self, *, despite_gate: bool = False) -> pd.DataFrame:
        """Return one verdict a season before and after netting: see `fishdown.statements`."""
        from fishdown.statements.verdicts import verdicts

        return verdicts(self, despite_gate=despite_gate)

    def estimates(self) -> pd.DataFrame:
        """Return every reported quantity with interval and convergence."""
        from fishdown.statements.estimates import estimates

        return estimates(self)

    def removals(self, *, despite_gate: bool = False) -> pd.DataFrame:
        """Return the fish and kg still to remove for a wanted probability."""
        from fishdown.statements.removals import removals

        return removals(self, despite_gate=despite_gate)

    def save(self, folder: str | os.PathLike[str], *, despite_gate: bool = False) -> Path:
        """Write the fit and its statements into a folder; see `fishdown.posterior.store`."""
        from fishdown.posterior.store import save

        return save(self, folder, despite_gate=despite_gate)


def fit(
    campaign: Campaign,
    model: str | Path | ModelSpec | None = None,
    *,
    settings: SamplerSettings | None = None,
    on_progress: Progress | None = None,
    on_retry: Callable[[str], None] | None = None,
) -> Fit:
    """Fit a model to a campaign.

    Parameters
    ----------
    campaign : Campaign
        From `fishdown.read`.
    model : str, path or ModelSpec, optional
        A shipped model's name, a model file, or a specification; by default the campaign's own
        choice or else that of `choose_model`.
    settings : SamplerSettings, optional
        Draws, chains, seed and the like.
    on_progress : callable, optional
        Called with draws done, draws in all and divergences.
    on_retry : callable, optional
        Called with the reason when sampling is repeated with more care.

    Returns
    -------
    Fit
        Even when the quality gate failed after all retries; its statements are then withheld.

    Raises
    ------
    ModelFileError
        If there is no such model.
    FitError
        If the records hold nothing to fit, or the sampler broke down.
    """
    settings = settings or SamplerSettings()
    asked = choose_model(campaign, model)
    spec, notes = fitting_spec(campaign, asked)
    data = model_data(campaign, spec)
    coords = {
        "lake": campaign.lakes["lake"].values.tolist(),
        "season": campaign.seasons["season"].values.tolist(),
    }
    from fishdown.models.graph import build

    sampler = Sampler(build(spec, data, coords), settings.sampler)
    attempts: list[Attempt] = []
    while True:
        started = time.perf_counter()
        sampled = sampler.sample(settings, on_progress)
        seconds = time.perf_counter() - started
        quantities = reported_quantities(sampled["posterior"].to_dataset(), campaign, spec)
        quality = judge(quantities, sampled["sample_stats"].to_dataset())
        attempts.append(Attempt(settings, seconds, quality.entry()))
        if quality.passed or len(attempts) > RETRIES:
            break
        settings = settings.harder()
        if on_retry is not None:
            on_retry(_reason(quality))

    run = {
        "title": campaign.settings.title,
        "model": spec.name,
        "model_title": asked.title,
        "model_text": asked.text,
        "model_parts": dict(spec.parts),
        "notes": list(notes),
        "seed": settings.seed,
        "versions": {name: version(name) for name in LIBRARIES},
        "input_sha256": dict(campaign.hashes or {}),
        "attempts": [attempt.entry() for attempt in attempts],
        "quality_gate": quality.entry(),
        "compile_seconds": round(sampler.compile_seconds, 3),
        "sample_seconds": round(sum(attempt.sample_seconds for attempt in attempts), 3),
    }
    return Fit(campaign, spec, _tree(sampled, quantities, campaign), run)


def _reason(quality: Quality) -> str:
    figures = quality.entry()
    return (
        f"{figures['divergences']} divergences, largest R-hat {figures['largest_rhat']:.3f}, "
        f"smallest ESS {min(figures['smallest_ess_bulk'], figures['smallest_ess_tail']):.0f}"
    )


def _tree(sampled: xr.DataTree, quantities: xr.Dataset, campaign: Campaign) -> xr.DataTree:
    posterior = sampled["posterior"].to_dataset()
    posterior.attrs = {}
    for name, array in posterior.data_vars.items():
        base = str(name).removesuffix("_typical")
        if base == "abundance":
            array.attrs.update(units="count", long_name="fish in the lake before the first pull")
        elif base in PARAMETERS:
            parameter = PARAMETERS[base]
            typical = ", typical lake" if base != name else ""
            array.attrs.update(units=parameter.unit, long_name=parameter.meaning + typical)
        else:
            array.attrs.update(units="1", long_name=f"working variable of the sampler: {name}")
    stats = sampled["sample_stats"].to_dataset()
    stats.attrs = {}
    for name, array in stats.data_vars.items():
        array.attrs.update(units="1", long_name=f"sampler: {str(name).replace('_', ' ')}")
    return xr.DataTree.from_dict(
        {
            "posterior": posterior,
            "quantities": quantities,
            "sample_stats": stats,
            "campaign": campaign.to_tree(),
        }
    )
