"""Scatter: how the variation of the share that a pull takes changes with catchability."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from fishdown.models.array_library import NUMPY
from fishdown.models.part import Parameter, Part, with_catches

if TYPE_CHECKING:
    from fishdown.campaign import Campaign
    from fishdown.models.part import LeftOut


def _with_schooling(parts: Mapping[str, str]) -> bool:
    return with_catches(parts) and parts["catch"] == "schooling"


def _left_out(campaign: Campaign, parts: Mapping[str, str]) -> LeftOut:
    if parts["scatter"] == "with_catchability" and parts["temperature"] == "none":
        return {"scatter": "same"}, ()
    return {}, ()


SCATTER = Part(
    name="scatter",
    choices={"same": (), "with_catchability": ("scatter_exponent",)},
    parameters={
        "scatter_exponent": Parameter(
            "exponent by which the variation between pulls changes with catchability",
            families=("normal",),
            label="exponent",
        )
    },
    applies=_with_schooling,
    left_out=_left_out,
)


def scattered(schooling: Any, effects: Any, exponent: Any, *, xp: Any = NUMPY) -> Any:
    """Return the coefficient of variation of the share that each pull takes, s exp(γ e).

    Parameters
    ----------
    schooling : array or tensor
        s, at the reference temperature, of a net's first pull.
    effects : array or tensor, broadcastable
        e, what all effects add to the logarithm of the hazard.
    exponent : array or tensor, broadcastable
        γ: 0 if all fish move as one school, −½ if many schools come independently of each other.
    xp : module
        The array library in use.
    """
    return schooling * xp.exp(exponent * effects)
