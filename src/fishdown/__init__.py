"""fishdown: abundance, catchability and remaining biomass from fish-removal campaigns.

>>> import fishdown
>>> campaign = fishdown.read("my_campaign")
>>> fit = fishdown.fit(campaign)
>>> fit.verdicts()
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

from fishdown.version import __version__

if TYPE_CHECKING:
    from fishdown import figures
    from fishdown.calibration.study import Calibration, calibrate
    from fishdown.campaign import Campaign, read
    from fishdown.checks.shapes import compare_shapes
    from fishdown.decisions.plan import plan
    from fishdown.decisions.update import update
    from fishdown.errors import (
        DesignError,
        FishdownError,
        FitError,
        ModelFileError,
        PlanError,
    )
    from fishdown.models.spec import ModelSpec, read_model
    from fishdown.posterior.fit import Fit, fit
    from fishdown.posterior.sampling import SamplerSettings
    from fishdown.posterior.store import load
    from fishdown.records.problems import RecordsError

# name → module; looked up on first use, since PyMC and its company take seconds to import
_HOMES = {
    "Calibration": "calibration.study",
    "calibrate": "calibration.study",
    "Campaign": "campaign",
    "read": "campaign",
    "compare_shapes": "checks.shapes",
    "DesignError": "errors",
    "FishdownError": "errors",
    "FitError": "errors",
    "ModelFileError": "errors",
    "RecordsError": "records.problems",
    "ModelSpec": "models.spec",
    "read_model": "models.spec",
    "Fit": "posterior.fit",
    "PlanError": "errors",
    "plan": "decisions.plan",
    "fit": "posterior.fit",
    "SamplerSettings": "posterior.sampling",
    "load": "posterior.store",
    "update": "decisions.update",
}

__all__ = [
    "Calibration",
    "Campaign",
    "DesignError",
    "FishdownError",
    "Fit",
    "FitError",
    "ModelFileError",
    "ModelSpec",
    "PlanError",
    "RecordsError",
    "SamplerSettings",
    "__version__",
    "calibrate",
    "compare_shapes",
    "figures",
    "fit",
    "load",
    "plan",
    "read",
    "read_model",
    "update",
]


def __getattr__(name: str) -> Any:
    """Import a public name on first use."""
    if name == "figures":
        return importlib.import_module("fishdown.figures")
    if name not in _HOMES:
        raise AttributeError(f"module 'fishdown' has no attribute {name!r}")
    return getattr(importlib.import_module(f"fishdown.{_HOMES[name]}"), name)


def __dir__() -> list[str]:
    """List the public names."""
    return sorted(__all__)
