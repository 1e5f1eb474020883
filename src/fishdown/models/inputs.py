"""Arrays with named dimensions that a part takes from a campaign: the inputs of the graph.

A part's inputs are a frozen dataclass with one type parameter: of NumPy arrays, they hold the
records; of tensors, they are data nodes of a graph, whose arrays another campaign's may replace.
A field of arrays states its dimensions and its unit:
``days: A = field(metadata=over("pull", units="d"))``.
"""

from __future__ import annotations

from dataclasses import fields, is_dataclass, replace
from typing import TYPE_CHECKING, Any, cast

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    import xarray as xr

    from fishdown.typing import BoolArray, FloatArray, IntArray

DIMENSIONS, UNITS, GROUPS, FILL = "dimensions", "units", "groups", "fill"


def over(
    *dimensions: str, units: str = "1", groups: bool = False, fill: float | str = 0
) -> dict[str, Any]:
    """Return the metadata of a dataclass's field of arrays with these dimensions.

    Parameters
    ----------
    *dimensions : str
    units : str
        As netCDF readers parse it (UDUNITS).
    groups : bool
        Whether they number what has a step of its own: more pulls may number it otherwise.
    fill : float or str
        What stands there in a record that says nothing, see `fishdown.models.padding`; a dimension,
        for the position of its last.
    """
    return {DIMENSIONS: dimensions, UNITS: units, GROUPS: groups, FILL: fill}


def leaves(inputs: Any, prefix: str = "") -> Iterator[tuple[str, Any, Mapping[str, Any]]]:
    """Go through all arrays, those of nested inputs too: name in the graph, value and metadata."""
    for name, value, label in members(inputs):
        if label is None:
            yield from leaves(value, f"{prefix}{name}_")
        else:
            yield prefix + name, value, label


def arrays_of(inputs: Any) -> dict[str, FloatArray | IntArray]:
    """Return all arrays of some inputs, by their names in the graph."""
    return {name: value for name, value, _ in leaves(inputs)}


def labelled_arrays_of(inputs: Any) -> dict[str, xr.Variable]:
    """Return the same arrays with their dimensions and units."""
    import xarray as xr

    return {
        name: xr.Variable(label[DIMENSIONS], value, {"units": label[UNITS]})
        for name, value, label in leaves(inputs)
    }


def nodes_of[T](inputs: T, prefix: str = "") -> T:
    """Return the same inputs with a data node of the model in context for every array."""
    import pymc as pm

    changed: dict[str, Any] = {}
    for name, value, label in members(inputs):
        if label is None:
            changed[name] = nodes_of(value, f"{prefix}{name}_")
        else:
            changed[name] = pm.Data(prefix + name, value, dims=label[DIMENSIONS])
    return with_members(inputs, changed)


def with_members[T](inputs: T, changed: dict[str, Any]) -> T:
    """Return the inputs with other values in place of some."""
    if isinstance(inputs, dict):
        return cast("T", inputs | changed)
    return cast("T", replace(cast("Any", inputs), **changed))


def of_pulls[T](inputs: T, which: slice | BoolArray) -> T:
    """Return the inputs of an effect for some of its pulls.

    Parameters
    ----------
    inputs : dataclass
        Whose arrays have the pulls along their last axis, if along any.
    which : slice or ndarray of bool, shape (pull,)
    """
    return with_members(
        inputs, {name: value[..., which] for name, value in _over_pulls(inputs).items()}
    )


def same_over_pulls(before: Any, now: Any, seen: BoolArray) -> bool:
    """Return whether the inputs of pulls that were there before are unchanged.

    Numbers of groups do not count: these are known by their labels.

    Parameters
    ----------
    before, now : dataclass
        Inputs of the same kind.
    seen : ndarray of bool, shape (pull,)
        Which pulls of `now` are those of `before`.
    """
    after = _over_pulls(of_pulls(now, seen))
    numbers = {name for name, _, label in members(before) if label and label[GROUPS]}
    return all(
        np.array_equal(value, after[name])
        for name, value in _over_pulls(before).items()
        if name not in numbers
    )


def _over_pulls(inputs: Any) -> dict[str, Any]:
    """Return the arrays that have the pulls along their last axis, by their field."""
    return {
        name: value
        for name, value, label in members(inputs)
        if label is not None and label[DIMENSIONS][-1:] == ("pull",)
    }


def members(inputs: Any) -> list[tuple[str, Any, Mapping[str, Any] | None]]:
    """List name, value and label of the fields that hold arrays; no label where they are nested."""
    if isinstance(inputs, dict):
        # Plain columns of numbers, as a pull table has them, are not for the graph.
        return [(name, value, None) for name, value in inputs.items() if is_dataclass(value)]
    found: list[tuple[str, Any, Mapping[str, Any] | None]] = []
    for one in fields(inputs):
        value = getattr(inputs, one.name)
        if DIMENSIONS in one.metadata:
            found.append((one.name, value, one.metadata))
        elif is_dataclass(value) or isinstance(value, dict):
            found.append((one.name, value, None))
    return found
