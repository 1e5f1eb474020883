"""Deaths and immigration within a season in the graph, and at the draws of a posterior."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from fishdown.models.part import with_marks
from fishdown.models.parts.open_lake.present import OpenLake
from fishdown.models.variables import from_prior

if TYPE_CHECKING:
    from fishdown.models.spec import ModelSpec


def open_lake(spec: ModelSpec) -> OpenLake:
    """Add the rates of a model to its graph."""
    rates: dict[str, Any] = {}
    if spec.part("natural_deaths") == "steady":
        rates["mortality"] = from_prior("natural_mortality", spec.priors["natural_mortality"])
    # Catches alone do not tell arrivals from catchability.
    if spec.part("immigration") == "steady" and with_marks(spec.parts):
        rates["immigration"] = from_prior("immigration", spec.priors["immigration"])
    return OpenLake(**rates)
