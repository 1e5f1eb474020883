"""Nights: differences of catchability between the nights of a lake, the same for all its nets."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from fishdown.equality import by_value
from fishdown.models.inputs import over
from fishdown.models.part import Effect, Parameter, Steps
from fishdown.models.pull_table import by_night

if TYPE_CHECKING:
    import pandas as pd

    from fishdown.models.pull_table import PullTable
    from fishdown.typing import IntArray

# Fewer nights with several pulls than this are uninformative (our judgement, no source).
FEWEST_NIGHTS = 3


@by_value
@dataclass(frozen=True, eq=False)
class NightInputs[A]:
    """The night of each pull, numbered over all lakes."""

    night: A = field(metadata=over("pull", groups=True))


def _inputs(pulls: PullTable, known: PullTable) -> NightInputs[IntArray]:
    return NightInputs(by_night(pulls)[1])


def _log_effect(
    xp: Any, choice: str, inputs: NightInputs[Any], values: Mapping[str, Any], reference: float
) -> Any:
    return values["night_spread"] * values["night_step"][..., inputs.night]


def _unfed(pulls: PullTable) -> str:
    nights = len(by_night(pulls)[0])
    if nights == len(pulls):
        return (
            "one pull a night: differences between nights are part of the variation between pulls"
        )
    if nights == len(np.unique(pulls.season)):
        return "one night in each season: no differences between nights"
    return ""


def _told(pulls: pd.DataFrame) -> tuple[str, str]:
    a_night = pulls.groupby("date").size()
    telling = len(a_night) > 1 and int((a_night > 1).sum()) >= FEWEST_NIGHTS
    return f"differences between nights ({len(a_night)} nights)" if telling else "", ""


NIGHTS = Effect(
    name="nights",
    choices={"alike": (), "differ": ("night_spread",)},
    parameters={
        "night_spread": Parameter(
            "spread of catchability between nights of a lake", label="log standard deviation"
        )
    },
    inputs=_inputs,
    log_effect=_log_effect,
    unfed=_unfed,
    steps=(Steps("night_step", "night", groups=by_night),),
    in_time=True,
    told=_told,
)
