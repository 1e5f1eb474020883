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
    import xarray as xr

    from fishdown.typing import BoolArray, FloatArray, IntArray

DIMENSIONS, UNITS = "dimensions", "units"


def over(*dimensions: str, units: str = "1") -> dict[str, Any]:
    """Return the metadata of a dataclass's field of arrays with these dimensions.

    Parameters
    ----------
    *dimensions : str
    units : str
        As netCDF readers parse it (UDUNITS).
    """
    return {DIMENSIONS: dimensions, UNITS: units}


def arrays_of(inputs: Any, prefix: str = "") -> dict[str, FloatArray | IntArray]:
    """Return all arrays of some inputs, by their names in the graph."""
    found: dict[str, FloatArray | IntArray] = {}
    for name, value, dimensions in _members(inputs):
        if dimensions is None:
            found |= arrays_of(value, f"{prefix}{name}_")
        else:
            found[prefix + name] = value
    return found


def labelled_arrays_of(inputs: Any, prefix: str = "") -> dict[str, xr.Variable]:
    """Return the same arrays with their dimensions and units."""
    import xarray as xr

    units = (
        {}
        if isinstance(inputs, dict)
        else {one.name: one.metadata.get(UNITS, "1") for one in fields(inputs)}
    )
    found: dict[str, xr.Variable] = {}
    for name, value, dimensions in _members(inputs):
        if dimensions is None:
            found |= labelled_arrays_of(value, f"{prefix}{name}_")
        else:
            found[prefix + name] = xr.Variable(dimensions, value, {"units": units[name]})
    return found


def nodes_of[T](inputs: T, prefix: str = "") -> T:
    """Return the same inputs with a data node of the model in context for every array."""
    import pymc as pm

    changed: dict[str, Any] = {}
    for name, value, dimensions in _members(inputs):
        if dimensions is None:
            changed[name] = nodes_of(value, f"{prefix}{name}_")
        else:
            changed[name] = pm.Data(prefix + name, value, dims=dimensions)
    if isinstance(inputs, dict):
        return cast("T", inputs | changed)
    return cast("T", replace(cast("Any", inputs), **changed))


def without_first_pulls[T](inputs: T, count: int) -> T:
    """Return the inputs of an effect without those of its first pulls.

    Parameters
    ----------
    inputs : dataclass
        Whose arrays have the pulls along their last axis, if along any.
    count : int
        How many pulls to leave out.
    """
    changed = {
        name: value[..., count:]
        for name, value, dimensions in _members(inputs)
        if dimensions and dimensions[-1] == "pull"
    }
    return cast("T", replace(cast("Any", inputs), **changed))


def same_first_pulls(before: Any, now: Any, seen: BoolArray) -> bool:
    """Return whether the inputs of earlier pulls are unchanged.

    Parameters
    ----------
    before, now : dataclass
        Inputs of the same kind.
    seen : ndarray of bool, shape (pull,)
        Which pulls of `now` are those of `before`.
    """
    after = {name: value for name, value, _ in _members(now)}
    return all(
        np.array_equal(value, after[name][..., seen])
        for name, value, dimensions in _members(before)
        if dimensions and dimensions[-1] == "pull"
    )


def _members(inputs: Any) -> list[tuple[str, Any, tuple[str, ...] | None]]:
    """List name, value and dimensions of what holds arrays; no dimensions where it is nested."""
    if isinstance(inputs, dict):
        # Plain columns of numbers, as a pull table has them, are not for the graph.
        return [(name, value, None) for name, value in inputs.items() if is_dataclass(value)]
    found = []
    for one in fields(inputs):
        value = getattr(inputs, one.name)
        if DIMENSIONS in one.metadata:
            found.append((one.name, value, one.metadata[DIMENSIONS]))
        elif is_dataclass(value) or isinstance(value, dict):
            found.append((one.name, value, None))
    return found
