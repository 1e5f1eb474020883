"""Equality of what holds arrays: by value, and one answer for the whole."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields
from typing import Any


def by_value[Class: type](cls: Class) -> Class:
    """Compare instances of a dataclass field by field, arrays and tables among them.

    What `dataclass` writes compares fields with ``==``, which answers for each element of an array
    and none for the whole. Fields with ``compare=False`` are left out. Instances have no hash.

    Parameters
    ----------
    cls : type
        A dataclass, decorated before.
    """
    compared = [field.name for field in fields(cls) if field.compare]

    def equal(self: Any, other: object) -> Any:
        if other.__class__ is not self.__class__:
            return NotImplemented
        return all(same(getattr(self, name), getattr(other, name)) for name in compared)

    cls.__eq__ = equal  # type: ignore[assignment]
    cls.__hash__ = None  # type: ignore[assignment]
    return cls


def same(one: Any, other: Any) -> bool:
    """Tell whether two values are the same, missing numbers being the same as each other.

    Parameters
    ----------
    one, other : object
        Arrays of one shape, tables and datasets with the same labels and attributes, mappings and
        sequences of such; anything else is compared with ``==``.
    """
    if one is other:
        return True
    if isinstance(one, Mapping) and isinstance(other, Mapping):
        return one.keys() == other.keys() and all(same(one[key], other[key]) for key in one)
    if type(one) is not type(other):
        # Whole numbers and others may be equal, a number and an array of it are not.
        return not (_is_array(one) or _is_array(other)) and bool(one == other)
    if hasattr(one, "identical"):  # xarray: labels, names and attributes too
        return bool(one.identical(other))
    if hasattr(one, "equals"):  # pandas
        return bool(one.equals(other))
    if _is_array(one):
        return _same_arrays(one, other)
    if isinstance(one, list | tuple):
        return len(one) == len(other) and all(map(same, one, other))
    return bool(one == other) or bool(one != one and other != other)


def _is_array(value: Any) -> bool:
    return getattr(value, "ndim", 0) > 0


def _same_arrays(one: Any, other: Any) -> bool:
    import numpy as np

    if one.shape != other.shape or one.dtype.kind != other.dtype.kind:
        return False
    if one.dtype.kind == "O":
        return all(map(same, one.ravel(), other.ravel()))
    return np.array_equal(one, other, equal_nan=one.dtype.kind in "fcmM")
