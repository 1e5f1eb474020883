"""The ledger of marks: how many marked fish were at large before each pull.

Marks do not end with a season. How many of them live and keep their mark over a winter is for a
model to say; the ledger counts them all, as the most that there can be.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from fishdown.equality import by_value

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array = NDArray[np.float64]


# Beyond every order that a table may have; days times orders stay whole numbers.
END_OF_DAY = 2.0**25


@by_value
@dataclass(frozen=True)
class Ledger:
    """Marks before and in every pull of one lake and season.

    Attributes
    ----------
    recaptured : numpy.ndarray
        Marked fish seen in each catch; NaN where not examined while marks were at large.
    examined : numpy.ndarray
        Fish of each catch known to be marked or not: those looked at, or all if no mark was at
        large.
    at_large : numpy.ndarray
        Marked fish at large before each pull.
    removed : numpy.ndarray
        Marked fish taken out by each pull, estimated for fish that were not examined.
    """

    recaptured: Array
    examined: Array
    at_large: Array
    removed: Array


def keep_ledger(
    caught: Array, recaptured: Array, examined: Array, released_again: Array, marked_before: Array
) -> Ledger:
    """Follow the marked fish of one lake and season from pull to pull.

    Marks at large before a pull are the marked fish released so far less those removed so far.
    Of the fish put back, marked ones are taken to be put back first. Fish of a catch that were
    not examined are taken to hold marked ones at the season's share (recaptured over examined,
    over the pulls while marks were at large), yet never so many that a later recapture would lack
    its marks.

    Parameters
    ----------
    caught : numpy.ndarray
        Fish in each catch, pulls in time order, shape (pulls,).
    recaptured : numpy.ndarray
        Marked fish among those examined, NaN where nobody looked, shape (pulls,).
    examined : numpy.ndarray
        Fish of each catch looked at for marks, if anybody looked, shape (pulls,).
    released_again : numpy.ndarray
        Fish of the catch put back alive, shape (pulls,).
    marked_before : numpy.ndarray
        Marked fish that may be at large but for those that pulls of the season removed: released
        alive before each pull, and carried over from earlier seasons, shape (pulls,).

    Returns
    -------
    Ledger
        The columns of the ledger, shape (pulls,) each.
    """
    count = len(caught)
    # Without marks at large, or without fish, there is nothing to see.
    nothing_to_see = (caught == 0) | (marked_before == 0)
    recaptured = np.where(np.isnan(recaptured) & nothing_to_see, 0.0, recaptured)
    looked = ~np.isnan(recaptured)
    examined = np.where(nothing_to_see, caught, np.where(looked, examined, 0.0))
    telling = looked & (marked_before > 0)
    fish = examined[telling].sum()
    share = recaptured[telling].sum() / fish if fish > 0 else 0.0

    inflow = np.diff(marked_before, prepend=0.0)
    seen = np.where(looked, recaptured, 0.0)
    removed = np.maximum(seen - released_again, 0.0)
    # Marks that must be left after each pull for the recaptures still to come.
    needed_after = np.zeros(count)
    for pull in range(count - 1, 0, -1):
        needed = max(seen[pull], needed_after[pull] + removed[pull])
        needed_after[pull - 1] = max(needed - inflow[pull], 0.0)

    at_large = np.zeros(count)
    now = 0.0
    for pull in range(count):
        now += inflow[pull]
        at_large[pull] = now
        unknown = caught[pull] - examined[pull]
        if unknown > 0:
            guess = max(seen[pull] + unknown * share - released_again[pull], removed[pull])
            removed[pull] = min(guess, max(now - needed_after[pull], removed[pull]))
        now -= removed[pull]
    return Ledger(recaptured, examined, at_large, removed)


def marked_before_pulls(pulls: pd.DataFrame, marked: pd.DataFrame) -> Array:
    """Count the marked fish released alive before each pull of one lake and season.

    Fish marked on a date are at large from the next day on; if their row has an order,
    they are at large for later orders of the same day.

    Parameters
    ----------
    pulls : pandas.DataFrame
        Pulls of one lake and season, with ``date`` and ``turn``.
    marked : pandas.DataFrame
        Marked fish of that lake and season, with ``date``, ``order``, ``released``, ``died``.

    Returns
    -------
    numpy.ndarray
        Released less died before each pull, shape (pulls,).
    """
    # Fish without an order wait for the next day; those without a date are never there.
    at = _moments(marked["date"], marked["order"], lacking=END_OF_DAY)
    in_time = np.argsort(at, kind="stable")
    in_time = in_time[~np.isnan(at[in_time])]
    released = np.concatenate([[0.0], np.cumsum(_alive(marked)[in_time])])
    earlier = np.searchsorted(at[in_time], _moments(pulls["date"], pulls["turn"]), side="left")
    return np.asarray(released[earlier], dtype="float64")


def _alive(marked: pd.DataFrame) -> Array:
    """Return the fish of each row that were released alive; what is not on record is none."""
    released, died = (
        np.nan_to_num(marked[name].to_numpy(np.float64)) for name in ("released", "died")
    )
    return np.asarray(released - died, dtype="float64")


def _moments(
    dates: pd.Series[pd.Timestamp], orders: pd.Series[float], lacking: float = np.nan
) -> Array:
    """Give each day and order a number that is larger for a later one, NaN to no day."""
    days = dates.to_numpy().astype("datetime64[D]")
    order = orders.to_numpy(np.float64)
    moments = days.astype("float64") * (2.0 * END_OF_DAY)
    moments += np.where(np.isnan(order), lacking, order)
    return np.asarray(np.where(np.isnat(days), np.nan, moments), dtype="float64")


def marked_for_earlier_seasons(pulls: pd.DataFrame, marked: pd.DataFrame) -> float:
    """Count the marked fish released alive in a lake before a season, for earlier ones.

    Parameters
    ----------
    pulls : pandas.DataFrame
        Pulls of one lake and season, with ``date`` and ``season``.
    marked : pandas.DataFrame
        Marked fish of that lake, with ``date``, ``season``, ``released``, ``died``.
    """
    if marked.empty:
        return 0.0
    others = (marked["season"] != pulls["season"].iloc[0]).to_numpy(dtype=bool)
    earlier = others & (marked["date"] < pulls["date"].min()).to_numpy(dtype=bool)
    return float(_alive(marked)[earlier].sum())
