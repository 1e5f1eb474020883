"""Runs of another gear in each season: the fish and marks that were at large on their day."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
import xarray as xr

if TYPE_CHECKING:
    from collections.abc import Mapping

    from fishdown.typing import FloatArray, IntArray

SURVEY_LABELS: dict[str, tuple[str | None, str]] = {
    "gear": (None, "gear of the run"),
    "marking_gear": (None, "whether fish were marked with the gear"),
    "effort": ("hour", "effort of the run; missing if not on record"),
}


def season_surveys(
    surveys: pd.DataFrame, season_index: IntArray, pulls: Mapping[str, Any], gone: FloatArray
) -> xr.Dataset:
    """Gather the runs, with the fish gone from the lake by the end of their day.

    Parameters
    ----------
    surveys : pandas.DataFrame
        Clean, with ``relative_area``.
    season_index : ndarray of int, shape (run,)
        Position of each run's season; −1 outside every season.
    pulls : mapping of str to ndarray, shape (pull,)
        The campaign's pulls: ``season_index``, ``date`` and ``gone_before``.
    gone : ndarray, shape (season,)
        Fish gone by the end of each season's netting.

    Returns
    -------
    xarray.Dataset
        Dimension ``run``.
    """
    day = surveys["date"].to_numpy(dtype="datetime64[ns]")
    gone_by = np.zeros(len(surveys))
    pulls_of = pd.Series(pulls["season_index"]).groupby(pulls["season_index"]).indices
    runs_of = pd.Series(season_index).groupby(season_index).indices
    for season in range(len(gone)):
        if season in runs_of and season in pulls_of:
            mine, runs = pulls_of[season], runs_of[season]
            before = np.append(pulls["gone_before"][mine], gone[season])
            gone_by[runs] = before[np.searchsorted(pulls["date"][mine], day[runs], side="right")]
    columns = {
        "season_index": season_index,
        "date": day,
        "gear": surveys["gear"].to_numpy(dtype=np.str_),
        "marking_gear": surveys["marking_gear"].to_numpy(dtype=bool),
        "caught": surveys["caught"].to_numpy(dtype=float),
        "examined": surveys["examined"].to_numpy(dtype=float),
        "marked": surveys["marked"].to_numpy(dtype=float),
        "effort": surveys["effort_h"].to_numpy(dtype=float),
        "relative_area": surveys["relative_area"].to_numpy(dtype=float),
        "gone_before": gone_by,
        "marks_at_large": surveys["marks_at_large"].to_numpy(dtype=float),
    }
    return xr.Dataset({name: ("run", values) for name, values in columns.items()})
