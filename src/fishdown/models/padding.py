"""Records that say nothing, to bring the arrays of several campaigns to one shape.

Each has the log-density 0, and so has its gradient: whatever the model, and to the last digit or
nearly so.

| dimension | a record that says nothing | why |
| --- | --- | --- |
| pull | none caught, after all were gone; not on record | no fish of none; not in a lake's means |
| season_date | a day without drift, that of those pulls | nothing is added to a season's drift |
| examined | an empty catch | there is one possible number of marked fish |
| release | no mark, released before the first catch | nothing is added to its marks |
| entry | an unknown times 0 | nothing is added to its term |
| term | a logarithm of a factorial times 0 | |
| weighing | no fish weighed or measured | all its sums are 0 |

A zero stands for that in all arrays but those whose metadata say otherwise
(`fishdown.models.inputs.over`).
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from fishdown.models.inputs import DIMENSIONS, FILL, leaves, members, with_members

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Mapping

    from fishdown.typing import Numbers

# A short season grows to so many nets and nights without a new graph.
LEAST = 8
PADDED = ("pull", "season_date", "examined", "release", "entry", "term", "weighing")


def lengths_of(data: Any) -> dict[str, int]:
    """Return the lengths of all dimensions of a campaign's arrays, by name."""
    return {
        dim: length
        for _, value, label in leaves(data)
        for dim, length in zip(label[DIMENSIONS], value.shape, strict=True)
    }


def common_lengths(
    campaigns: Iterable[Any], at_least: Mapping[str, int] | None = None
) -> dict[str, int]:
    """Return lengths to which all campaigns can be padded.

    Parameters
    ----------
    campaigns : iterable of ModelData
    at_least : mapping of str to int, optional
        Lengths that others had: what fits into these is not made shorter.

    Returns
    -------
    dict of str to int
        Of the dimensions in `PADDED`, with some room, so that further campaigns mostly fit in.
    """
    found = dict(at_least or {})
    for data in campaigns:
        for dim, length in lengths_of(data).items():
            # One day more, for the pulls that were never made.
            needed = length + (dim == "season_date")
            if dim in PADDED and needed > found.get(dim, 0):
                found[dim] = with_room(needed)
    return found


def padded(data: Any, lengths: Mapping[str, int]) -> dict[str, Numbers]:
    """Return a campaign's arrays by name, filled up with records that say nothing.

    Parameters
    ----------
    data : ModelData
    lengths : mapping of str to int
        From `common_lengths`.
    """
    found: dict[str, Numbers] = {}
    for name, value, label in leaves(data):
        fill = label[FILL]
        if isinstance(fill, str):
            fill = lengths[fill] - 1
        more = [
            (0, lengths.get(dim, length) - length)
            for dim, length in zip(label[DIMENSIONS], value.shape, strict=True)
        ]
        found[name] = np.pad(value, more, constant_values=fill) if more else value
    return found


def emptied[T](inputs: T, dims: Collection[str]) -> T:
    """Return inputs with one record that says nothing in place of all those of some dimensions."""
    changed: dict[str, Any] = {}
    for name, value, label in members(inputs):
        if label is None:
            changed[name] = emptied(value, dims)
        elif set(label[DIMENSIONS]) & set(dims):
            shape = [
                1 if dim in dims else length
                for dim, length in zip(label[DIMENSIONS], value.shape, strict=True)
            ]
            # A position of a last record is that of the only one.
            fill = 0 if isinstance(label[FILL], str) else label[FILL]
            changed[name] = np.full(shape, fill, value.dtype)
    return with_members(inputs, changed)


def with_spare(labels: list[str]) -> list[str]:
    """Return labels of nets or nights with some to spare, for those to come."""
    length = max(LEAST, with_room(len(labels)))
    return [*labels, *(f"to spare {number}" for number in range(len(labels) + 1, length + 1))]


def with_room(length: int) -> int:
    """Return the next larger one of 1, 2, 3, 4, 6, 8, 12, 16, 24 and so on: few different ones."""
    power = 1 << max(length - 1, 0).bit_length()
    return power * 3 // 4 if power >= 4 and length <= power * 3 // 4 else power
