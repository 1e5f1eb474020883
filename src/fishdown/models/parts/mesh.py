"""Mesh: the effect of mesh size on the hazard."""

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
    from fishdown.typing import FloatArray


@by_value
@dataclass(frozen=True, eq=False)
class MeshInputs[A]:
    """log2 of each pull's mesh over the median mesh; 0 if it is not on record."""

    doublings: A = field(metadata=over("pull"))


def _inputs(pulls: PullTable, known: PullTable) -> MeshInputs[FloatArray]:
    return MeshInputs(np.log2(pulls.filled("mesh_mm", known) / known.median("mesh_mm")))


def _log_effect(
    xp: Any, choice: str, inputs: MeshInputs[Any], values: Mapping[str, Any], reference: float
) -> Any:
    return xp.log(values["mesh_effect"]) * inputs.doublings


def _unfed(pulls: PullTable) -> str:
    mesh = pulls["mesh_mm"]
    few = len(np.unique(mesh[~np.isnan(mesh)])) < 2
    return "fewer than two mesh sizes on record: no mesh effect" if few else ""


def _told(pulls: pd.DataFrame) -> tuple[str, str]:
    mesh = pulls["mesh_mm"]
    told = f"mesh size ({mesh.min():g}–{mesh.max():g} mm)"
    return told if mesh.nunique() > 1 else "", ""


MESH = Effect(
    name="mesh",
    choices={"none": (), "log_linear": ("mesh_effect",)},
    parameters={
        "mesh_effect": Parameter(
            "catchability ratio for a doubling of mesh size", label="ratio per doubling"
        )
    },
    inputs=_inputs,
    log_effect=_log_effect,
    unfed=_unfed,
    told=_told,
)
