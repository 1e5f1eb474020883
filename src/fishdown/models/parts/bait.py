"""Bait: catchability builds up over days of baiting."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from fishdown.equality import by_value
from fishdown.models.inputs import over
from fishdown.models.part import SHARE, Effect, Parameter

if TYPE_CHECKING:
    import pandas as pd

    from fishdown.models.pull_table import PullTable
    from fishdown.typing import FloatArray


@by_value
@dataclass(frozen=True, eq=False)
class BaitInputs[A]:
    """Days of bait before each pull; the median if none are on record."""

    days: A = field(metadata=over("pull", units="d"))


def _inputs(pulls: PullTable, known: PullTable) -> BaitInputs[FloatArray]:
    return BaitInputs(pulls.filled("bait_days", known))


def _log_effect(
    xp: Any, choice: str, inputs: BaitInputs[Any], values: Mapping[str, Any], reference: float
) -> Any:
    """Return ln(1 − (1 − g) exp(−t/τ)): without bait a net has the share g of its catchability."""
    missing = (1.0 - values["bait_start"]) * xp.exp(-inputs.days / values["bait_build_up"])
    return xp.log(1.0 - missing)


def _unfed(pulls: PullTable) -> str:
    lacking = np.isnan(pulls["bait_days"]).all()
    return "no days of bait on record: no effect of bait" if lacking else ""


def _told(pulls: pd.DataFrame) -> tuple[str, str]:
    days = pulls["bait_days"]
    told = f"baiting ({days.min():g}–{days.max():g} days)"
    return told if days.nunique() > 1 else "", ""


BAIT = Effect(
    name="bait",
    choices={"none": (), "building": ("bait_start", "bait_build_up")},
    parameters={
        "bait_start": Parameter(
            "catchability of a net without bait, as a share of its full catchability",
            families=SHARE,
            label="share",
        ),
        "bait_build_up": Parameter(
            "time constant of baiting (days until the shortfall is 37 %)", "d", label="days"
        ),
    },
    inputs=_inputs,
    log_effect=_log_effect,
    unfed=_unfed,
    told=_told,
)
