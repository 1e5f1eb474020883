"""Water temperatures to come, from dated readings: a yearly course and what strays from it.

A Gaussian process with a harmonic mean of unknown level and swing [1]_. The means and spreads below
are our judgement (no source); `models/README.md`, "Ahead", has the formula.

References
----------
.. [1] Rasmussen & Williams 2006. Gaussian Processes for Machine Learning, section 2.7 (explicit
   basis functions; reference from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from fishdown.decisions.schedule import COLDEST_C, WARMEST_C
from fishdown.equality import by_value
from fishdown.models.parts.temperature.readings import BORROWED_SD, DRIFT_SD, READING_SD

if TYPE_CHECKING:
    from fishdown.campaign import Campaign
    from fishdown.typing import FloatArray, IntArray

YEAR = 365.25
# Level of the year and swing around it, °C: mean and standard deviation.
LEVEL, LEVEL_SD, SWING_SD = 12.0, 6.0, 8.0
# How far a season's water strays from the yearly course, °C, and for how many days. Over a few
# days this drifts as much as the guess of a missing temperature does.
STRAY_SD = 2.0
STRAY_DAYS = 2.0 * STRAY_SD**2 / DRIFT_SD**2
FEWEST_DAYS = 6


@by_value
@dataclass(frozen=True)
class Readings:
    """Daily means of water temperature, lake by lake.

    Attributes
    ----------
    day : ndarray, shape (reading,)
        Days since 1970-01-01.
    lake : ndarray of int, shape (reading,)
        Position of the lake.
    celsius : ndarray, shape (reading,)
    """

    day: FloatArray
    lake: IntArray
    celsius: FloatArray


def readings_of(campaign: Campaign, lake: int) -> Readings:
    """Return the readings used for a lake: its own, or those of all lakes when too few."""
    pulls = campaign.pulls
    celsius = pulls["temperature"].values
    known = ~np.isnan(celsius)
    lakes = campaign.seasons["lake_index"].values[pulls["season_index"].values][known]
    day = days_of(pulls["date"].values)[known]
    own = lakes == lake
    chosen = own if len(np.unique(day[own])) >= FEWEST_DAYS else np.ones(len(day), dtype=bool)
    keys = np.stack([lakes[chosen].astype(float), day[chosen]])
    unique, place = np.unique(keys, axis=1, return_inverse=True)
    place = place.ravel()
    mean = np.bincount(place, weights=celsius[known][chosen]) / np.bincount(place)
    return Readings(unique[1], unique[0].astype(np.int64), mean)


def days_of(dates: np.ndarray[Any, np.dtype[np.datetime64]]) -> FloatArray:
    """Return dates as days since 1970-01-01."""
    return dates.astype("datetime64[D]").astype(np.int64).astype(float)


def expected(readings: Readings, lake: int, day: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return mean and covariance of a lake's water temperature on days to come.

    Parameters
    ----------
    readings : Readings
        May be empty; the prior then answers.
    lake : int
    day : ndarray, shape (day,)
        Days since 1970-01-01, all different.

    Returns
    -------
    mean : ndarray, shape (day,)
        °C.
    covariance : ndarray, shape (day, day)
        °C².
    """
    there = np.full(len(day), lake)
    mean = np.full(len(day), LEVEL)
    covariance = _covariance(day, there, day, there)
    if not len(readings.day):
        return mean, covariance
    seen = _covariance(readings.day, readings.lake, readings.day, readings.lake)
    seen = seen + READING_SD**2 * np.eye(len(readings.day))
    across = _covariance(day, there, readings.day, readings.lake)
    weight = np.linalg.solve(seen, across.T).T
    return mean + weight @ (readings.celsius - LEVEL), covariance - weight @ across.T


def drawn(
    readings: Readings, lake: int, day: FloatArray, draws: int, rng: np.random.Generator
) -> FloatArray:
    """Draw a lake's water temperature on given days.

    Parameters
    ----------
    lake : int
    day : ndarray, shape (pull,)
        Days since 1970-01-01; pulls of one day have one temperature.
    draws : int

    Returns
    -------
    ndarray, shape (draws, pull)
        °C, never colder or warmer than netted water can be.
    """
    days, place = np.unique(day, return_inverse=True)
    mean, covariance = expected(readings, lake, days)
    # Eigenvalues, since a covariance of days close together is singular to rounding.
    value, vector = np.linalg.eigh(covariance)
    root = vector * np.sqrt(np.maximum(value, 0.0))
    celsius = mean + rng.standard_normal((draws, len(days))) @ root.T
    # A few readings leave room for water that boils, and catchability grows with every degree.
    return np.clip(celsius, COLDEST_C, WARMEST_C)[:, place]


def _covariance(day: FloatArray, lake: IntArray, other: FloatArray, there: IntArray) -> FloatArray:
    angle = 2.0 * np.pi * (day[:, None] - other[None]) / YEAR
    yearly = LEVEL_SD**2 + SWING_SD**2 * np.cos(angle)
    same = lake[:, None] == there[None]
    apart = np.abs(day[:, None] - other[None])
    own = same * (BORROWED_SD**2 + STRAY_SD**2 * np.exp(-apart / STRAY_DAYS))
    total: FloatArray = yearly + own
    return total
