"""Seasons: differences of catchability between the seasons of a lake."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from fishdown.equality import by_value
from fishdown.models.inputs import over
from fishdown.models.part import Effect, Parameter, Steps

if TYPE_CHECKING:
    from fishdown.models.pull_table import PullTable
    from fishdown.typing import IntArray


@by_value
@dataclass(frozen=True, eq=False)
class SeasonInputs[A]:
    """Position of the season of each pull."""

    season: A = field(metadata=over("pull"))


def _inputs(pulls: PullTable, known: PullTable) -> SeasonInputs[IntArray]:
    return SeasonInputs(pulls.season)


def _log_effect(
    xp: Any, choice: str, inputs: SeasonInputs[Any], values: Mapping[str, Any], reference: float
) -> Any:
    return values["season_spread"] * values["season_step"][..., inputs.season]


def _unfed(pulls: PullTable) -> str:
    seasons, first = np.unique(pulls.season, return_index=True)
    one_each = len(np.unique(pulls.lake[first])) == len(seasons)
    return "no lake was netted in two seasons: no differences between seasons" if one_each else ""


SEASONS = Effect(
    name="seasons",
    choices={"alike": (), "differ": ("season_spread",)},
    parameters={
        "season_spread": Parameter(
            "spread of catchability between seasons of a lake", label="log standard deviation"
        )
    },
    inputs=_inputs,
    log_effect=_log_effect,
    unfed=_unfed,
    steps=(Steps("season_step", "season"),),
)
