"""Where the data of a graph are, in one block of memory, as machine code reads it.

The block holds, array by array, the address and the shape, in words of eight bytes.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fishdown.typing import IntArray


def block_of(arrays: Sequence[Any]) -> IntArray:
    """Return the block of some arrays, which must be kept for as long as it is in use.

    Parameters
    ----------
    arrays : sequence of ndarray
        In C order.
    """
    words = [word for array in arrays for word in (array.ctypes.data, *array.shape)]
    return np.array(words or [0], np.int64)


def reading(arrays: Sequence[Any]) -> tuple[list[str], list[str]]:
    """Write the lines of Python that read arrays from their block.

    Parameters
    ----------
    arrays : sequence of ndarray
        Only their kinds and numbers of dimensions matter.

    Returns
    -------
    lines : list of str
        Of a function that has the pointer to the block as ``data``.
    names : list of str
        By which the arrays are known after these lines.
    """
    count = sum(1 + array.ndim for array in arrays)
    lines = [f"words = carray(data, ({count},))"] if arrays else []
    names = [f"array_{place}" for place in range(len(arrays))]
    head = 0
    for name, array in zip(names, arrays, strict=True):
        shape = "".join(f"words[{head + 1 + axis}], " for axis in range(array.ndim))
        kind = "bool_" if array.dtype == bool else array.dtype.name
        lines.append(f"{name} = carray(pointer(words[{head}]), ({shape}), np.{kind})")
        head += 1 + array.ndim
    return lines, names
