"""A model's specification as plain values, for files of results, and back."""

from __future__ import annotations

from typing import Any

from fishdown.models.priors import Prior
from fishdown.models.spec import ModelSpec


def spec_entry(spec: ModelSpec) -> dict[str, Any]:
    """Return a specification as plain values; `spec_from` turns it back."""
    # The text alone would not do: a specification may have been changed after it was read.
    return {
        "name": spec.name,
        "title": spec.title,
        "parts": dict(spec.parts),
        "priors": {name: prior.entry() for name, prior in spec.priors.items()},
        "reference_temperature": spec.reference_temperature,
        "text": spec.text,
    }


def spec_from(entry: dict[str, Any]) -> ModelSpec:
    """Rebuild a specification from what `spec_entry` returned."""
    priors = {name: Prior.read(name, prior) for name, prior in entry["priors"].items()}
    return ModelSpec(**{**entry, "priors": priors})
