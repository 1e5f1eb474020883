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
    from fishdown.api.ahead import Ahead
    from fishdown.api.bycatch import Bycatch, bycatch
    from fishdown.api.fit import Fit, load
    from fishdown.api.fitting import fit
    from fishdown.api.many import fit_many
    from fishdown.api.plan import Planned, plan
    from fishdown.api.rerun import Rerun, rerun
    from fishdown.api.update import update
    from fishdown.calibration.study import Calibration, calibrate
    from fishdown.campaign import Campaign, read
    from fishdown.checks.result import CheckResult
    from fishdown.checks.shapes import ShapeComparison, compare_shapes
    from fishdown.decisions.lift_time import LiftTimes, lift_time
    from fishdown.decisions.plan_design import Plan
    from fishdown.decisions.schedule import Schedule
    from fishdown.decisions.years import YearsAhead
    from fishdown.errors import DesignError, FishdownError, FitError, ModelFileError, PlanError
    from fishdown.models.spec import ModelSpec, read_model
    from fishdown.posterior.sampling import SamplerSettings
    from fishdown.records.problems import RecordsError

# name → module; looked up on first use, since PyMC and its company take seconds to import
_HOMES = {
    "Ahead": "api.ahead",
    "Bycatch": "api.bycatch",
    "bycatch": "api.bycatch",
    "Calibration": "calibration.study",
    "calibrate": "calibration.study",
    "Campaign": "campaign",
    "read": "campaign",
    "CheckResult": "checks.result",
    "ShapeComparison": "checks.shapes",
    "compare_shapes": "checks.shapes",
    "DesignError": "errors",
    "FishdownError": "errors",
    "FitError": "errors",
    "ModelFileError": "errors",
    "RecordsError": "records.problems",
    "ModelSpec": "models.spec",
    "read_model": "models.spec",
    "Fit": "api.fit",
    "PlanError": "errors",
    "Plan": "decisions.plan_design",
    "Planned": "api.plan",
    "plan": "api.plan",
    "Schedule": "decisions.schedule",
    "YearsAhead": "decisions.years",
    "LiftTimes": "decisions.lift_time",
    "lift_time": "decisions.lift_time",
    "fit": "api.fitting",
    "fit_many": "api.many",
    "SamplerSettings": "posterior.sampling",
    "load": "api.fit",
    "Rerun": "api.rerun",
    "rerun": "api.rerun",
    "update": "api.update",
}

__all__ = [
    "Ahead",
    "Bycatch",
    "Calibration",
    "Campaign",
    "CheckResult",
    "DesignError",
    "FishdownError",
    "Fit",
    "FitError",
    "LiftTimes",
    "ModelFileError",
    "ModelSpec",
    "Plan",
    "PlanError",
    "Planned",
    "RecordsError",
    "Rerun",
    "SamplerSettings",
    "Schedule",
    "ShapeComparison",
    "YearsAhead",
    "__version__",
    "bycatch",
    "calibrate",
    "compare_shapes",
    "figures",
    "fit",
    "fit_many",
    "lift_time",
    "load",
    "plan",
    "read",
    "read_model",
    "rerun",
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
