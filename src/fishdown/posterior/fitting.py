"""Fit a campaign: choose the model, sample it well, and put together what a fit holds."""

from __future__ import annotations

import platform
from importlib.metadata import version
from typing import TYPE_CHECKING

import xarray as xr

from fishdown.posterior.attempts import Compiled, sample_well
from fishdown.posterior.choice import chosen_model
from fishdown.posterior.fitted import FittedCampaign
from fishdown.posterior.prior_share import shares_of_abundance
from fishdown.posterior.sampling import SamplerSettings
from fishdown.posterior.variable_labels import labelled
from fishdown.version import __version__

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from fishdown.campaign import Campaign
    from fishdown.models.spec import ModelSpec
    from fishdown.posterior.attempts import Progress, Sampled
    from fishdown.posterior.choice import ChosenModel


LIBRARIES = (
    "pymc", "pytensor", "nutpie", "arviz", "numba", "numpy", "xarray", "pandas"
)  # fmt: skip
# Of what only some have installed.
OF_SAMPLER = {"numpyro": ("numpyro", "jax")}


def fit_model(
    campaign: Campaign,
    model: str | Path | ModelSpec | None = None,
    *,
    settings: SamplerSettings | None = None,
    on_progress: Progress | None = None,
    on_retry: Callable[[str], None] | None = None,
) -> FittedCampaign:
    """Fit a model to a campaign, without comparisons or checks.

    Parameters
    ----------
    campaign, model, settings, on_progress, on_retry
        As for `fishdown.fit`, which also compares marks with catches.

    Returns
    -------
    FittedCampaign
        Even when the quality gate failed after all retries.

    Raises
    ------
    ModelFileError
        If there is no such model.
    FitError
        If the records hold nothing to fit, or the sampler failed.
    """
    settings = settings or SamplerSettings()
    chosen = chosen_model(campaign, model)
    compiled = Compiled(chosen.campaign, chosen.spec, settings.sampler)
    return put_together(chosen, sample_well(compiled, settings, on_progress, on_retry), settings)


def put_together(
    chosen: ChosenModel, sampled: Sampled, settings: SamplerSettings
) -> FittedCampaign:
    """Return what a fit holds, from its draws."""
    campaign, spec, asked = chosen.campaign, chosen.spec, chosen.choice.spec
    tree = xr.DataTree.from_dict(
        {
            "posterior": labelled(sampled.tree["posterior"].to_dataset()),
            "quantities": sampled.quantities,
            "sample_stats": _plain(sampled.tree["sample_stats"].to_dataset()),
            "told": shares_of_abundance(sampled.tree["posterior"].to_dataset(), campaign, spec),
            "campaign": campaign.to_tree(),
        }
    )
    run = {
        "title": campaign.settings.title,
        "model": spec.name,
        "model_title": asked.title,
        "model_choice": chosen.choice.why,
        "model_text": asked.text,
        "model_parts": dict(spec.parts),
        "model_priors": {name: prior.entry() for name, prior in spec.priors.items()},
        "notes": list(chosen.notes),
        "seed": settings.seed,
        "versions": {
            "fishdown": __version__,
            **{name: version(name) for name in (*LIBRARIES, *OF_SAMPLER.get(settings.sampler, ()))},
        },
        "computer": _computer(),
        "input_sha256": dict(campaign.hashes or {}),
        **sampled.entry(),
    }
    return FittedCampaign(campaign, spec, tree, run)


def _computer() -> dict[str, str]:
    """Return what of a computer decides on the last digits of a fit."""
    from llvmlite import binding  # type: ignore[import-untyped]

    return {
        "system": f"{platform.system()} {platform.machine()}",
        # By this the machine code is made.
        "processor": binding.get_host_cpu_name(),
        "python": platform.python_version(),
    }


def _plain(stats: xr.Dataset) -> xr.Dataset:
    stats.attrs = {}
    for name, array in stats.data_vars.items():
        array.attrs.update(units="1", long_name=f"sampler: {str(name).replace('_', ' ')}")
    return stats
