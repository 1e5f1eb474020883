"""Catchability: the share of a lake's fish that one pull takes, before all that changes it."""

from __future__ import annotations

from collections.abc import Mapping

from fishdown.models.part import Parameter, Part, with_catches


def _objection(parts: Mapping[str, str]) -> str:
    if parts["catchability"] == "per_lake" and parts["pooling"] == "lakes":
        return (
            "lakes are pooled by area cleared; "
            'with pooling = "lakes" write catchability = "per_area"'
        )
    return ""


CATCHABILITY = Part(
    name="catchability",
    choices={
        "per_area": ("cleared_ha", "area_exponent", "lake_spread"),
        "per_lake": ("catchability",),
    },
    parameters={
        "cleared_ha": Parameter(
            "lake area that one pull clears of fish at the reference temperature "
            "(catchability × lake area)",
            "ha",
        ),
        "catchability": Parameter(
            "probability that one pull takes a given fish of the lake", families=("beta",)
        ),
        "area_exponent": Parameter(
            "how catchability falls with lake area; at 1 a pull clears the same area everywhere",
            families=("normal",),
            among_lakes=True,
        ),
        "lake_spread": Parameter(
            "spread of catchability between lakes, on the log scale", among_lakes=True
        ),
    },
    speaks=with_catches,
    objection=_objection,
)
