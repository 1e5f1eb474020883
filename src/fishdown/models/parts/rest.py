"""Rest: catchability of a net recovers with time after a pull (local depletion, disturbance)."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from fishdown.equality import by_value
from fishdown.models.inputs import over
from fishdown.models.part import SHARE, Effect, Parameter
from fishdown.models.parts.first_pulls import first_pulls, told_by_repeats

if TYPE_CHECKING:
    import pandas as pd

    from fishdown.models.pull_table import PullTable
    from fishdown.typing import FloatArray

# Days of rest of a first pull: fully recovered.
LONG_REST = 1_000.0


@by_value
@dataclass(frozen=True, eq=False)
class RestInputs[A]:
    """Days since the net's last pull of the season; `LONG_REST` for its first."""

    days: A = field(metadata=over("pull", units="d"))


def _inputs(pulls: PullTable, known: PullTable) -> RestInputs[FloatArray]:
    day = pulls.date.astype("datetime64[D]").astype(float)
    days = np.full(len(pulls), LONG_REST)
    last: dict[tuple[int, int], float] = {}
    for pull, key in enumerate(zip(pulls.net.tolist(), pulls.season.tolist(), strict=True)):
        if key in last:
            days[pull] = day[pull] - last[key]
        last[key] = day[pull]
    return RestInputs(days)


def _log_effect(
    xp: Any, choice: str, inputs: RestInputs[Any], values: Mapping[str, Any], reference: float
) -> Any:
    """Return ln(1 − k exp(−t/τ)): pulled at once again, a net keeps 1 − k of it."""
    return xp.log(1.0 - values["rest_loss"] * xp.exp(-inputs.days / values["rest_recovery"]))


def _unfed(pulls: PullTable) -> str:
    once = first_pulls(pulls).all()
    return "no net was pulled twice in a season: no effect of rest" if once else ""


def _told(pulls: pd.DataFrame) -> tuple[str, str]:
    return told_by_repeats("rest between pulls", pulls), ""


REST = Effect(
    name="rest",
    choices={"none": (), "recovering": ("rest_loss", "rest_recovery")},
    parameters={
        "rest_loss": Parameter(
            "share of catchability lost by a net that is pulled again at once",
            families=SHARE,
            label="share",
        ),
        "rest_recovery": Parameter(
            "time constant of net recovery (days until that loss falls to 37 %)", "d", label="days"
        ),
    },
    inputs=_inputs,
    log_effect=_log_effect,
    unfed=_unfed,
    told=_told,
)
