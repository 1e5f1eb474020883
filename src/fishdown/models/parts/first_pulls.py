"""First pulls: a net's catchability after its first pull of a season."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from fishdown.equality import by_value
from fishdown.models.inputs import over
from fishdown.models.part import Effect, Parameter

if TYPE_CHECKING:
    import pandas as pd

    from fishdown.models.pull_table import PullTable
    from fishdown.typing import BoolArray, FloatArray

# Fewer repeat pulls than this are uninformative (our judgement, no source).
FEWEST_REPEATS = 5


@by_value
@dataclass(frozen=True, eq=False)
class FirstPullsInputs[A]:
    """1 where the net was pulled before in the season, else 0."""

    later: A = field(metadata=over("pull"))


def first_pulls(pulls: PullTable) -> BoolArray:
    """Return which pulls are a net's first of a season, shape (pull,)."""
    first = np.zeros(len(pulls), dtype=bool)
    keys = np.stack([pulls.net, pulls.season])
    first[np.unique(keys, axis=1, return_index=True)[1]] = True
    return first


def _inputs(pulls: PullTable, known: PullTable) -> FirstPullsInputs[FloatArray]:
    return FirstPullsInputs((~first_pulls(pulls)).astype(float))


def _log_effect(
    xp: Any, choice: str, inputs: FirstPullsInputs[Any], values: Mapping[str, Any], reference: float
) -> Any:
    return xp.log(values["later_pulls"]) * inputs.later


def _unfed(pulls: PullTable) -> str:
    once = first_pulls(pulls).all()
    return "no net was pulled twice in a season: no effect of first pulls" if once else ""


def told_by_repeats(what: str, pulls: pd.DataFrame) -> str:
    """Say that repeat pulls inform on something; empty if there are too few of them."""
    again = int(pulls.duplicated("net").sum())
    return f"{what} ({again} repeat pulls)" if again >= FEWEST_REPEATS else ""


def _told(pulls: pd.DataFrame) -> tuple[str, str]:
    return told_by_repeats("first against later pulls of a net", pulls), ""


FIRST_PULLS = Effect(
    name="first_pulls",
    choices={"alike": (), "best": ("later_pulls",)},
    parameters={
        "later_pulls": Parameter(
            "catchability ratio of a net's later pulls to its first pull of a season", label="ratio"
        )
    },
    inputs=_inputs,
    log_effect=_log_effect,
    unfed=_unfed,
    told=_told,
)
