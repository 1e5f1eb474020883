"""Abundance: the fish before the first pull of a season."""

from __future__ import annotations

from fishdown.models.part import Parameter, Part

ABUNDANCE = Part(
    name="abundance",
    choices={"unknown": ("density",)},
    parameters={"density": Parameter("fish per hectare before the first pull of a season", "ha-1")},
)
