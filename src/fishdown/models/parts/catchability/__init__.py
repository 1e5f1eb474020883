"""Catchability: the share of a lake's fish that one pull takes, before all effects."""

from __future__ import annotations

from collections.abc import Mapping

from fishdown.models.part import Parameter, Part, with_catches


def _objection(parts: Mapping[str, str]) -> str:
    if parts["catchability"] == "per_lake" and parts["pooling"] == "lakes":
        return (
            "lakes are pooled by the area fished per pull; "
            'with pooling = "lakes" write catchability = "per_area"'
        )
    return ""


CATCHABILITY = Part(
    name="catchability",
    choices={
        "per_area": ("area_fished_ha", "area_exponent", "lake_spread"),
        "per_lake": ("catchability",),
    },
    parameters={
        "area_fished_ha": Parameter(
            "effective area fished per pull at the reference temperature "
            "(catchability × lake area)",
            "ha",
        ),
        "catchability": Parameter(
            "probability that one pull takes a given fish of the lake", families=("beta",)
        ),
        "area_exponent": Parameter(
            "area exponent: at 1 pulls fish the same area in every lake, at 0 the same share of it",
            families=("normal",),
            among_lakes=True,
        ),
        "lake_spread": Parameter(
            "spread of catchability between lakes, on the log scale", among_lakes=True
        ),
    },
    applies=with_catches,
    objection=_objection,
)
