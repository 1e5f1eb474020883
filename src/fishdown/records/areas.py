"""The area of a lake by date, where its water rises and falls."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fishdown.records.tables import empty_frame

if TYPE_CHECKING:
    from collections.abc import Mapping

    import pandas as pd

    from fishdown.typing import FloatArray


def no_areas() -> pd.DataFrame:
    """Return the table of a campaign whose lakes have one area each."""
    return empty_frame("areas")


def area_on(
    areas: pd.DataFrame,
    lakes: pd.Series[str],
    dates: pd.Series[pd.Timestamp],
    usual: Mapping[str, float],
) -> FloatArray:
    """Return the area of lakes on some days: linear in time between entries, constant outside.

    Parameters
    ----------
    areas : pandas.DataFrame
        Columns ``date``, ``lake`` and ``area_ha``, in any order.
    lakes, dates : pandas.Series, shape (n,)
        Missing dates have the usual area.
    usual : mapping of str to float
        Area of each lake in the table of lakes, for those without an entry, ha.

    Returns
    -------
    ndarray, shape (n,)
        ha.
    """
    found: FloatArray = np.array([usual[lake] for lake in lakes], dtype=float)
    day = dates.to_numpy("datetime64[D]")
    for lake, known in areas.sort_values("date").groupby("lake", sort=False):
        mine = (lakes == lake).to_numpy() & ~np.isnat(day)
        entered = known["date"].to_numpy("datetime64[D]").astype(float)
        found[mine] = np.interp(day[mine].astype(float), entered, known["area_ha"].to_numpy(float))
    return found


def relative_area_on(
    areas: pd.DataFrame, rows: pd.DataFrame, usual: Mapping[str, float]
) -> FloatArray:
    """Return the area of the lakes of some rows on their dates, over their usual area."""
    of_lakes: FloatArray = np.array([usual[lake] for lake in rows["lake"]], dtype=float)
    return area_on(areas, rows["lake"], rows["date"], usual) / of_lakes
