"""The drift of an antenna's clock: by how much it was fast, between the times it was checked."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd


def without_drift(detections: pd.DataFrame, checks: pd.DataFrame) -> pd.DataFrame:
    """Set the times of all reads right.

    A clock that was checked is fast by what lies on the line between two checks, and before the
    first and after the last by as much as then.

    Parameters
    ----------
    detections : pandas.DataFrame
        Columns time, local, lake, net.
    checks : pandas.DataFrame
        Columns time, lake, net (empty: every antenna of the lake without a check of its own),
        fast_s.
    """
    if checks.empty or detections.empty:
        return detections
    fast = pd.Series(0.0, index=detections.index)
    antennas: dict[Any, Any] = dict(detections.groupby(["lake", "net"], sort=False).groups)
    for (lake, net), rows in antennas.items():
        of_lake = checks[checks["lake"] == lake]
        own = of_lake[of_lake["net"] == net]
        used = (own if len(own) else of_lake[of_lake["net"] == ""]).sort_values("time")
        if len(used):
            fast[rows] = np.interp(
                _seconds(detections.loc[rows, "time"]), _seconds(used["time"]), used["fast_s"]
            )
    off = pd.to_timedelta((fast * 1e6).round(), unit="us").astype("timedelta64[us]")
    return detections.assign(time=detections["time"] - off, local=detections["local"] - off)


def _seconds(times: pd.Series[pd.Timestamp]) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    return times.dt.tz_localize(None).to_numpy("datetime64[us]").astype(np.float64) / 1e6
