"""Water temperature at the pulls, estimated where it was not measured."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from fishdown.equality import by_value

if TYPE_CHECKING:
    from fishdown.typing import FloatArray, IntArray

# Drift of water temperature in a lake (our judgement, no source): a reading has an error of 1 °C,
# and days without one add 0.35 °C times the root of their number.
READING_SD = 1.0
DRIFT_SD = 0.35
# A lake without readings uses those of the campaign's other lakes.
BORROWED_SD = 3.0


@by_value
@dataclass(frozen=True)
class TemperatureGuess:
    """Temperatures at the pulls, measured or estimated.

    Attributes
    ----------
    value : ndarray, shape (pull,)
        The reading, or the estimate's mean if there is none, °C.
    missing : ndarray of int, shape (missing,)
        Positions of the pulls without a reading.
    sd : ndarray, shape (missing,)
        Standard deviation of each estimate, °C.
    """

    value: FloatArray
    missing: IntArray
    sd: FloatArray


def guess_missing(
    temperature: FloatArray, date: np.ndarray[Any, np.dtype[np.datetime64]], lake: IntArray
) -> TemperatureGuess:
    """Estimate missing temperatures from the dated readings of the same lake.

    The mean is interpolated in time, the standard deviation increases with the days to the nearest
    reading. A lake without readings uses those of all lakes by day of the year. Without any
    reading all stay NaN, none is called missing, and the model has no temperature effect.

    Parameters
    ----------
    temperature : ndarray, shape (pull,)
        °C, NaN where there is no reading.
    date : ndarray of datetime64, shape (pull,)
    lake : ndarray of int, shape (pull,)

    Returns
    -------
    TemperatureGuess
    """
    day = (date - np.datetime64("1970-01-01")).astype("timedelta64[D]").astype(float)
    known = ~np.isnan(temperature)
    missing = np.flatnonzero(~known) if known.any() else np.array([], dtype=np.int64)
    value = temperature.copy()
    sd = np.zeros(len(missing))
    for position, pull in enumerate(missing):
        here = known & (lake == lake[pull])
        if here.any():
            value[pull] = _interpolate(day[pull], day[here], temperature[here])
            gap = np.abs(day[here] - day[pull]).min()
            sd[position] = np.hypot(READING_SD, DRIFT_SD * np.sqrt(gap))
        else:
            year = 365.25
            value[pull] = _interpolate(day[pull] % year, day[known] % year, temperature[known])
            sd[position] = BORROWED_SD
    return TemperatureGuess(value=value, missing=missing, sd=sd)


def _interpolate(at: float, day: FloatArray, temperature: FloatArray) -> float:
    days, where = np.unique(day, return_inverse=True)
    mean = np.bincount(where, weights=temperature) / np.bincount(where)
    return float(np.interp(at, days, mean))
