"""Nets: differences of catchability between the nets of a lake."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from fishdown.equality import by_value
from fishdown.models.inputs import over
from fishdown.models.part import Effect, Parameter, Steps
from fishdown.models.pull_table import by_net

if TYPE_CHECKING:
    import pandas as pd

    from fishdown.models.pull_table import PullTable
    from fishdown.typing import IntArray


@by_value
@dataclass(frozen=True, eq=False)
class NetInputs[A]:
    """The net of each pull, numbered over all lakes."""

    net: A = field(metadata=over("pull"))


def _inputs(pulls: PullTable, known: PullTable) -> NetInputs[IntArray]:
    return NetInputs(pulls.net)


def _log_effect(
    xp: Any, choice: str, inputs: NetInputs[Any], values: Mapping[str, Any], reference: float
) -> Any:
    return values["net_spread"] * values["net_step"][..., inputs.net]


def _unfed(pulls: PullTable) -> str:
    if len(pulls.nets) == len(np.unique(pulls.lake)):
        return "one net in each lake: no differences between nets"
    if len(pulls.nets) == len(pulls):
        return "no net was pulled twice: no differences between nets"
    return ""


def _told(pulls: pd.DataFrame) -> tuple[str, str]:
    nets = pulls["net"].nunique()
    telling = nets > 1 and len(pulls) >= 3 * nets
    return f"differences between nets ({nets} nets)" if telling else "", ""


NETS = Effect(
    name="nets",
    choices={"alike": (), "differ": ("net_spread",)},
    parameters={
        "net_spread": Parameter(
            "spread of catchability between nets of a lake", label="log standard deviation"
        )
    },
    inputs=_inputs,
    log_effect=_log_effect,
    unfed=_unfed,
    steps=(Steps("net_step", "net", groups=by_net),),
    told=_told,
)
