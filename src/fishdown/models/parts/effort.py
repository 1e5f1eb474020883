"""Effort: a net that fished for more hours may take a larger share."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from fishdown.equality import by_value
from fishdown.models.inputs import over
from fishdown.models.part import Effect, LeftOut, Parameter

if TYPE_CHECKING:
    import pandas as pd

    from fishdown.campaign import Campaign
    from fishdown.models.pull_table import PullTable
    from fishdown.typing import FloatArray


@by_value
@dataclass(frozen=True, eq=False)
class EffortInputs[A]:
    """Logarithm of each pull's hours over the usual ones of the pulls that were fitted."""

    log_ratio: A = field(metadata=over("pull"))


def usual_hours(hours: FloatArray) -> float:
    """Return the geometric mean, to the whole hour so that new pulls seldom change it."""
    mean = float(np.exp(np.nanmean(np.log(hours))))
    return float(round(mean)) if mean >= 1.0 else mean


def _inputs(pulls: PullTable, known: PullTable) -> EffortInputs[FloatArray]:
    hours = pulls.filled("effort_h", known)
    return EffortInputs(np.log(hours / usual_hours(known["effort_h"])))


def _log_effect(
    xp: Any, choice: str, inputs: EffortInputs[Any], values: Mapping[str, Any], reference: float
) -> Any:
    """Return β ln(hours / usual hours)."""
    return values["effort_exponent"] * inputs.log_ratio


def _left_out(campaign: Campaign, parts: Mapping[str, str]) -> LeftOut:
    """Leave it out without a word if no pull has hours."""
    none = bool(np.isnan(campaign.pulls["effort_h"].values).all())
    return ({"effort": "pulls"} if none else {}), ()


def _unfed(pulls: PullTable) -> str:
    hours = pulls["effort_h"]
    lacking = int(np.isnan(hours).sum())
    if lacking:
        return (
            f"hours fished not on record for {lacking:,} of {len(hours):,} pulls: effort is pulls"
        )
    same = len(np.unique(hours)) < 2
    return "all pulls fished for the same hours: effort is pulls" if same else ""


def _told(pulls: pd.DataFrame) -> tuple[str, str]:
    hours = pulls["effort_h"]
    lacking = int(hours.isna().sum())
    if lacking == len(hours):
        return "", ""
    if lacking:
        return "", f"hours fished lack for {lacking:,} of {len(hours):,} pulls: effort is pulls"
    told = f"hours fished ({hours.min():g}–{hours.max():g} h)"
    return told if hours.nunique() > 1 else "", ""


EFFORT = Effect(
    name="effort",
    choices={"pulls": (), "hours": ("effort_exponent",)},
    parameters={
        "effort_exponent": Parameter(
            "exponent of the hours that a net fished: 1 if catches are proportional to them, 0 if "
            "the school comes at once",
            families=("normal",),
            label="exponent",
        )
    },
    inputs=_inputs,
    log_effect=_log_effect,
    left_out=_left_out,
    unfed=_unfed,
    told=_told,
)
