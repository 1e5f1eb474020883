"""Nets: how their mesh, their earlier pulls and their bait change the hazard."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable

    from fishdown.typing import BoolArray, FloatArray, IntArray


def rest_effect(
    rest: Any,
    loss: Any,
    recovery: Any,
    *,
    log: Callable[[Any], Any] = np.log,
    exp: Callable[[Any], Any] = np.exp,
) -> Any:
    """Return what a short rest adds to the logarithm of the hazard.

    ln(1 − k exp(−t/τ)): a net pulled again at once takes 1 − k of what a rested net takes, since
    the fish around it were taken or scared; the loss fades with the days t since its last pull.

    Parameters
    ----------
    rest : array or tensor, shape (pull,)
        Days since the net's last pull; a large number for its first.
    loss : array or tensor
        k, between 0 and 1.
    recovery : array or tensor
        τ, days.
    log, exp : callable
        Of the array library in use.

    Returns
    -------
    array or tensor, shape (pull,)
    """
    return log(1.0 - loss * exp(-rest / recovery))


def bait_effect(
    bait: Any,
    start: Any,
    build_up: Any,
    *,
    log: Callable[[Any], Any] = np.log,
    exp: Callable[[Any], Any] = np.exp,
) -> Any:
    """Return what days of bait add to the logarithm of the hazard.

    ln(1 − (1 − g) exp(−t/τ)): without any bait a net takes the share g of what it takes after long
    baiting; fish learn the place over days.

    Parameters
    ----------
    bait : array or tensor, shape (pull,)
        Days of bait before the pull.
    start : array or tensor
        g, between 0 and 1.
    build_up : array or tensor
        τ, days.
    log, exp : callable
        Of the array library in use.

    Returns
    -------
    array or tensor, shape (pull,)
    """
    return log(1.0 - (1.0 - start) * exp(-bait / build_up))


def first_pulls(net: IntArray, season: IntArray) -> BoolArray:
    """Tell which pulls are a net's first of a season.

    Parameters
    ----------
    net, season : ndarray of int, shape (pull,)
        Which net and season a pull belongs to; pulls in time order within a season.

    Returns
    -------
    ndarray of bool, shape (pull,)
    """
    first = np.zeros(len(net), dtype=bool)
    first[np.unique(np.stack([net, season]), axis=1, return_index=True)[1]] = True
    return first


# Longer than any memory of a net: what a first pull has had.
LONG_REST = 1_000.0


def rest_days(net: IntArray, season: IntArray, date: np.ndarray[Any, Any]) -> FloatArray:
    """Return the days since each net's last pull of the season.

    Parameters
    ----------
    net, season : ndarray of int, shape (pull,)
        Which net and season a pull belongs to; pulls in time order within a season.
    date : ndarray of datetime64, shape (pull,)

    Returns
    -------
    ndarray, shape (pull,)
        Days; `LONG_REST` for a net's first pull.
    """
    day = date.astype("datetime64[D]").astype(float)
    rest = np.full(len(net), LONG_REST)
    last: dict[tuple[int, int], float] = {}
    for pull, key in enumerate(zip(net.tolist(), season.tolist(), strict=True)):
        if key in last:
            rest[pull] = day[pull] - last[key]
        last[key] = day[pull]
    return rest
