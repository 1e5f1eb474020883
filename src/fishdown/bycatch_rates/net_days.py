"""Catches of each species by net and day, and the groups of pulls that are alike."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from fishdown.equality import by_value

if TYPE_CHECKING:
    from fishdown.campaign import Campaign
    from fishdown.typing import FloatArray, IntArray

_DAY = ["season_index", "date", "net"]


@by_value
@dataclass(frozen=True)
class NetDays:
    """Nets by days: pulls that tell of the rate of bycatch.

    Attributes
    ----------
    pulls : ndarray, shape (net_day,)
        Pulls that were not void and whose bycatch was counted.
    group : ndarray, shape (net_day,)
        Position of the `cells` of each.
    counts : dict of str to ndarray, shape (net_day,)
        Fish of each species of the bycatch.
    target : ndarray, shape (net_day,)
        Fish of the species that is removed.
    cells : pandas.DataFrame
        Season of a lake (position), calendar month and mesh (log2 of the mesh size over the
        median, 0 where there is none on record): pulls alike in all three.
    median_mesh : float
        mm; NaN without any mesh on record.
    """

    pulls: FloatArray
    group: IntArray
    counts: dict[str, FloatArray]
    target: FloatArray
    cells: pd.DataFrame
    median_mesh: float

    @property
    def seasons(self) -> list[int]:
        """Positions of the seasons of lakes that have pulls here, ascending."""
        return sorted(set(self.cells["season"].tolist()))

    @property
    def cell_pulls(self) -> FloatArray:
        """Pulls of each cell, shape (cell,)."""
        return self.of_cells(self.pulls)

    def of_cells(self, values: FloatArray) -> FloatArray:
        """Sum over the nets and days of each cell, shape (cell,)."""
        return np.bincount(self.group, weights=values, minlength=len(self.cells))


def net_days(campaign: Campaign) -> NetDays:
    """Collect catches by net and day.

    Parameters
    ----------
    campaign : Campaign

    Returns
    -------
    NetDays
    """
    pulls = campaign.pulls[["season_index", "date", "net", "caught"]].to_dataframe()
    pulls["mesh"], median = relative_mesh(campaign)
    told = ~campaign.pulls["spoiled"].values & campaign.pulls["bycatch_counted"].values
    days = (
        pulls[told]
        .groupby(_DAY, sort=True)
        .agg(pulls=("caught", "size"), target=("caught", "sum"), mesh=("mesh", "mean"))
    )
    place = days.reset_index()
    place["month"] = place["date"].dt.month
    # Means of one number differ in the last digit.
    place["mesh"] = place["mesh"].round(6)
    cells, group = np.unique(
        place[["season_index", "month", "mesh"]].to_numpy(dtype=float), axis=0, return_inverse=True
    )
    counts = {}
    for species, rows in entries_of(campaign).groupby("species", sort=True):
        seen = rows.groupby(_DAY)["count"].sum()
        counts[str(species)] = seen.reindex(days.index, fill_value=0.0).to_numpy(dtype=float)
    return NetDays(
        pulls=days["pulls"].to_numpy(dtype=float),
        group=np.asarray(group).reshape(-1),
        counts=counts,
        target=days["target"].to_numpy(dtype=float),
        cells=pd.DataFrame(
            {
                "season": cells[:, 0].astype(np.int64),
                "month": cells[:, 1].astype(np.int64),
                "mesh": cells[:, 2],
            }
        ),
        median_mesh=median,
    )


def entries_of(campaign: Campaign) -> pd.DataFrame:
    """Return the rows of bycatch; without columns of species and dead where there are none."""
    if not campaign.bycatch.sizes.get("bycatch"):
        columns = [*_DAY, "species", "count", "dead"]
        return pd.DataFrame({name: pd.Series(dtype=object) for name in columns})
    return campaign.bycatch.to_dataframe()


def relative_mesh(campaign: Campaign) -> tuple[FloatArray, float]:
    """Return log2 of mesh size over the median of all pulls, and that median in mm.

    Returns
    -------
    relative : ndarray, shape (pull,)
        0 where no mesh is on record.
    median : float
        mm; NaN without any.
    """
    mesh = campaign.pulls["mesh_mm"].values.astype(float)
    if not np.isfinite(mesh).any():
        return np.zeros(len(mesh)), float("nan")
    median = float(np.nanmedian(mesh))
    return np.nan_to_num(np.log2(mesh / median)), median
