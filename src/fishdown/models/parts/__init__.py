"""All parts of the model, listed in this one place."""

from __future__ import annotations

from collections.abc import Mapping

from fishdown.models.part import Effect, Parameter, Part
from fishdown.models.parts.abundance import ABUNDANCE
from fishdown.models.parts.area import AREA
from fishdown.models.parts.bait import BAIT
from fishdown.models.parts.catch import CATCH
from fishdown.models.parts.catchability import CATCHABILITY
from fishdown.models.parts.choices import EVIDENCE, POOLING
from fishdown.models.parts.drift import DRIFT
from fishdown.models.parts.effort import EFFORT
from fishdown.models.parts.first_pulls import FIRST_PULLS
from fishdown.models.parts.marks import (
    ANTENNA,
    BATCHES,
    DEATHS,
    MARKS,
    SECOND_LOOKS,
    VULNERABLE,
)
from fishdown.models.parts.mesh import MESH
from fishdown.models.parts.nets import NETS
from fishdown.models.parts.nights import NIGHTS
from fishdown.models.parts.open_lake import IMMIGRATION, NATURAL_DEATHS
from fishdown.models.parts.recaptures import RECAPTURES
from fishdown.models.parts.rest import REST
from fishdown.models.parts.scatter import SCATTER
from fishdown.models.parts.seasons import SEASONS
from fishdown.models.parts.surveys import SURVEYS
from fishdown.models.parts.temperature import TEMPERATURE
from fishdown.models.parts.weights import LENGTHS, SIZES, WEIGHED, WEIGHTS
from fishdown.models.parts.years import YEARS

# In the order in which parts without information are left out, and parameters are reported.
_ALL = (
    EVIDENCE,
    POOLING,
    ABUNDANCE,
    CATCH,
    VULNERABLE,
    TEMPERATURE,
    MARKS,
    DEATHS,
    RECAPTURES,
    YEARS,
    CATCHABILITY,
    AREA,
    SEASONS,
    NETS,
    NIGHTS,
    DRIFT,
    MESH,
    FIRST_PULLS,
    REST,
    BAIT,
    EFFORT,
    SCATTER,
    BATCHES,
    ANTENNA,
    SURVEYS,
    SECOND_LOOKS,
    NATURAL_DEATHS,
    IMMIGRATION,
    WEIGHTS,
    SIZES,
    WEIGHED,
    LENGTHS,
)
_known: dict[str, Part] = {part.name: part for part in _ALL}


def all_parts() -> tuple[Part, ...]:
    """Return every part of the model, in order."""
    return tuple(_known.values())


def chosen_parts() -> dict[str, Part]:
    """Return the parts with a choice in model files, by name."""
    return {part.name: part for part in all_parts() if len(part.choices) > 1}


def effects() -> tuple[Effect, ...]:
    """Return the parts that multiply the hazard of a pull."""
    return tuple(part for part in all_parts() if isinstance(part, Effect))


def parameters() -> dict[str, Parameter]:
    """Return the parameters of all parts, by name."""
    return {name: one for part in all_parts() for name, one in part.parameters.items()}


def derived_quantities() -> dict[str, Parameter]:
    """Return what the graph derives from the parameters, to be reported by season."""
    return {name: one for part in all_parts() for name, one in part.reported.items()}


def unreported(parts: Mapping[str, str]) -> set[str]:
    """Return the parameters that are not reported, given the choices of all parts."""
    return {
        name for part in all_parts() for name in part.unreported.get(parts.get(part.name, ""), ())
    }


def join(part: Part) -> None:
    """Add a part, for models of one's own; a part of the same name is replaced."""
    _known[part.name] = part


def leave(part: Part) -> None:
    """Remove a part that was added."""
    del _known[part.name]
