"""Area: catchability follows the area of the lake, where its water rises and falls."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from fishdown.equality import by_value
from fishdown.models.inputs import over
from fishdown.models.part import Effect, LeftOut
from fishdown.models.parts.catchability import CATCHABILITY

if TYPE_CHECKING:
    from fishdown.campaign import Campaign
    from fishdown.models.pull_table import PullTable
    from fishdown.typing import FloatArray

_EXPONENT = "area_exponent"


@by_value
@dataclass(frozen=True, eq=False)
class AreaInputs[A]:
    """Logarithm of the lake's area at each pull over its area in the table of lakes."""

    log_ratio: A = field(metadata=over("pull"))


def _inputs(pulls: PullTable, known: PullTable) -> AreaInputs[FloatArray]:
    return AreaInputs(np.log(pulls["relative_area"]))


def _log_effect(
    xp: Any, choice: str, inputs: AreaInputs[Any], values: Mapping[str, Any], reference: float
) -> Any:
    """Return −γ ln(A(t)/A): a pull fishes the same area where no exponent is estimated."""
    return -values.get(_EXPONENT, 1.0) * inputs.log_ratio


def _left_out(campaign: Campaign, parts: Mapping[str, str]) -> LeftOut:
    """Leave it out without a word if every lake has one area."""
    one = bool((campaign.pulls["relative_area"].values == 1.0).all())
    return ({"area": "constant"} if one else {}), ()


def _unfed(pulls: PullTable) -> str:
    return ""


AREA = Effect(
    name="area",
    choices={"by_date": (_EXPONENT,), "constant": ()},
    absent="constant",
    parameters={_EXPONENT: CATCHABILITY.parameters[_EXPONENT]},
    inputs=_inputs,
    log_effect=_log_effect,
    left_out=_left_out,
    unfed=_unfed,
)
