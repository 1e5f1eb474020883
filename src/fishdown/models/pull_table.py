"""The pulls of a model, as plain columns."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from fishdown.equality import by_value

if TYPE_CHECKING:
    from collections.abc import Mapping

    from fishdown.campaign import Campaign
    from fishdown.typing import BoolArray, FloatArray, IntArray


@by_value
@dataclass(frozen=True, eq=False)
class PullTable:
    """Pulls in time order within each season.

    Attributes
    ----------
    season, lake : ndarray of int, shape (pull,)
        Position of each pull's season and lake.
    seasons : tuple of (str, str)
        Lake and label of each season, by position.
    net : ndarray of int, shape (pull,)
        Which net of which lake.
    nets : tuple of (str, str)
        Lake and net, by position.
    date : ndarray of datetime64, shape (pull,)
    columns : mapping of str to ndarray, shape (pull,)
        Numbers by name, as in ``Campaign.pulls``; NaN where nothing is on record.
    """

    season: IntArray
    lake: IntArray
    seasons: tuple[tuple[str, str], ...]
    net: IntArray
    nets: tuple[tuple[str, str], ...]
    date: np.ndarray[Any, Any]
    columns: Mapping[str, FloatArray]

    def __len__(self) -> int:
        """Return how many pulls there are."""
        return len(self.season)

    def __getitem__(self, column: str) -> FloatArray:
        """Return a column of numbers."""
        return self.columns[column]

    def filled(self, column: str, known: PullTable) -> FloatArray:
        """Return a column with missing values replaced by the median of known pulls."""
        values = self[column]
        found: FloatArray = np.where(np.isnan(values), known.median(column), values)
        return found

    def median(self, column: str) -> float:
        """Return the median of a column, missing values left out; 1 if there is none."""
        values = self[column]
        return 1.0 if np.isnan(values).all() else float(np.nanmedian(values))


def pull_table(campaign: Campaign, kept: BoolArray) -> PullTable:
    """Return some pulls of a campaign.

    Parameters
    ----------
    campaign : Campaign
    kept : ndarray of bool, shape (pull,)
    """
    pulls = campaign.pulls.isel(pull=np.flatnonzero(kept))
    season = pulls["season_index"].values
    lake = campaign.seasons["lake_index"].values[season]
    lakes, labels = (campaign.seasons[name].values.tolist() for name in ("lake", "label"))
    names = campaign.seasons["lake"].values[season]
    # Nets of different lakes are different nets.
    nets, net = numbered(list(zip(names.tolist(), pulls["net"].values.tolist(), strict=True)))
    return PullTable(
        season=season,
        lake=lake,
        seasons=tuple(zip(lakes, labels, strict=True)),
        net=net,
        nets=nets,
        date=pulls["date"].values,
        columns={
            str(name): column.values
            for name, column in pulls.data_vars.items()
            if column.dtype.kind == "f" and column.dims == ("pull",)
        },
    )


def by_net(pulls: PullTable) -> tuple[tuple[tuple[str, str], ...], IntArray]:
    """Return the nets (lake, net), and which of them each pull is of."""
    return pulls.nets, pulls.net


def by_night(pulls: PullTable) -> tuple[tuple[tuple[str, str], ...], IntArray]:
    """Return the nights (lake, date of pull), and which of them each pull belongs to."""
    dates = pulls.date.astype("datetime64[D]").astype(str).tolist()
    lakes = [pulls.seasons[season][0] for season in pulls.season.tolist()]
    return numbered(list(zip(lakes, dates, strict=True)))


def numbered[Key: tuple[str, ...]](keys: list[Key]) -> tuple[tuple[Key, ...], IntArray]:
    """Return the different keys, sorted, and the position of each given one among them."""
    different = tuple(sorted(set(keys)))
    place = {key: position for position, key in enumerate(different)}
    return different, np.array([place[key] for key in keys], dtype=np.int64)
