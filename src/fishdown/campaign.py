"""A campaign: clean records as labelled arrays with units, the input of every model.

The word *season* stands for one season in one lake, the unit whose abundance is estimated. Its key
is the pair of the two; its label joins them, as in "Sedge Lake 2025".
"""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
import xarray as xr

from fishdown.batches import BATCH_LABELS, batches_of
from fishdown.equality import by_value
from fishdown.heard_tags import HEARD_LABELS, heard_tags
from fishdown.labels import season_label, told_apart
from fishdown.marks_elsewhere import ELSEWHERE_LABELS, seen_elsewhere
from fishdown.records import read_records
from fishdown.records.areas import area_on, relative_area_on
from fishdown.records.covariates import COVARIATES
from fishdown.records.lake_years import lake_seasons
from fishdown.records.problems import listed
from fishdown.records.settings import Settings
from fishdown.records.tables import rows_of
from fishdown.season_marks import SEASON_MARK_LABELS, season_marks
from fishdown.season_movements import MOVEMENT_LABELS, moved_before_pulls, season_movements
from fishdown.season_second_looks import SECOND_LOOK_LABELS, season_second_looks
from fishdown.season_surveys import SURVEY_LABELS, season_surveys

if TYPE_CHECKING:
    import os

    from fishdown.records.checked import Records
    from fishdown.typing import IntArray

_LABELS: dict[str, tuple[str | None, str]] = {
    "area": ("ha", "lake area in the table of lakes"),
    "area_before": ("ha", "lake area at the season's first pull"),
    "area_after": ("ha", "lake area at the season's last pull"),
    "relative_area": ("1", "lake area on the day, over that in the table of lakes"),
    "threshold": ("kg ha-1", "management threshold of biomass density"),
    "caught": ("count", "target fish in the pull"),
    "recaptured": ("count", "marked fish in the pull; missing where the catch was not examined"),
    "examined": ("count", "fish of the catch known to be marked or not"),
    "released_again": ("count", "fish of the catch put back alive"),
    "removed": ("count", "fish taken out of the lake by the pull"),
    "marks_at_large": ("count", "marked fish in the lake just before the pull, if all survive"),
    "marks_removed": ("count", "marked fish taken out by the pull"),
    "gone_before": (
        "count",
        "fish removed, dead or moved since the season's start, before the pull, less those that "
        "came",
    ),
    "temperature": ("degree_Celsius", "water temperature at the pull"),
    "length": ("mm", "length of a measured fish"),
    "weight": ("kg", "weight of a measured fish"),
    "marked": ("count", "fish marked and released alive in the season"),
    "gone": ("count", "fish removed, dead or moved by the season's end, less those that came"),
    "marks_left": ("count", "marked fish still at large at the season's end, if all survive"),
    "carried_most": ("count", "marked fish of earlier years at large before it, if all survive"),
    "year": ("1", "year of the season"),
    "count": ("count", "bycatch of one species in a pull"),
    "dead": ("count", "dead among the bycatch"),
    "limit": ("count", "fish of the bycatch that may be caught in a season"),
    "lake_index": ("1", "position of the season's lake"),
    "season_index": ("1", "position of the season; -1 outside every season"),
    # Words, dates and yes or no have no unit; a date's is set when it is stored.
    "young_eaten": (None, "whether egg and fry predators suppress recruitment in the lake"),
    "connected": (None, "whether fish can come and go through connected waters"),
    "lake": (None, "lake of the season"),
    "label": (None, "name of the season within its lake"),
    "first_day": (None, "day of the season's first pull"),
    "last_day": (None, "day of the season's last pull"),
    "date": (None, "day of the pull, or on which a fish was measured"),
    "net": (None, "net that was pulled; of a measured fish, empty if not on record"),
    "spoiled": (None, "whether the lift was void: it failed to fish properly"),
    "bycatch_counted": (None, "whether it is on record what bycatch the pull had, none included"),
    "species": (None, "species of the bycatch"),
    "fish": (None, "fish that a limit is on: all, or dead ones"),
    **BATCH_LABELS,
    **SEASON_MARK_LABELS,
    **HEARD_LABELS,
    **MOVEMENT_LABELS,
    **SURVEY_LABELS,
    **SECOND_LOOK_LABELS,
    **ELSEWHERE_LABELS,
}


_TABLES = (
    "lakes", "seasons", "pulls", "fish", "surveys", "bycatch", "bycatch_limits", "batches",
    "antenna", "elsewhere",
)  # fmt: skip


@by_value
@dataclass(frozen=True)
class Campaign:
    """Checked records as labelled arrays.

    Attributes
    ----------
    settings : Settings
        Title, species, threshold and costs.
    lakes : xarray.Dataset
        Dimension ``lake``: area (ha), threshold (kg/ha), connected, young_eaten.
    seasons : xarray.Dataset
        Dimension ``season``, one entry for each season of each netted lake, years without pulls
        between them included: its lake, label, year, first and last day and the lake's area (ha) on
        these, fish marked and gone, marks left and marks carried over from earlier years, and fish
        that came or went other than by the nets; marked fish found by two looks.
    pulls : xarray.Dataset
        Dimension ``pull``, in time order within each season.
    fish : xarray.Dataset
        Dimension ``fish``, the measured fish.
    surveys : xarray.Dataset
        Dimension ``run``, of another gear.
    bycatch : xarray.Dataset
        Dimension ``bycatch``, one species in one pull.
    bycatch_limits : xarray.Dataset
        Dimension ``bycatch_limit``: species, lake (either may be "all"), label of the season
        (empty: the last one), limit, and the fish that it is on ("all" or "dead").
    batches : xarray.Dataset
        Dimension ``batch``, the fish marked under one name in one season of one lake; what was
        released of each before each pull, and seen in it, also have the dimension ``pull``.
    antenna : xarray.Dataset
        Dimension ``history``: tags of a season by the nights on which antennas heard them.
    elsewhere : xarray.Dataset
        Dimension ``pair``: marked fish of one lake that were seen in another.
    warnings : tuple of str
        What the reader noticed without refusing the records; of many alike, the first and how
        many more.
    hashes : dict of str to str
        SHA-256 of each input file.
    """

    settings: Settings
    lakes: xr.Dataset
    seasons: xr.Dataset
    pulls: xr.Dataset
    fish: xr.Dataset
    surveys: xr.Dataset
    bycatch: xr.Dataset
    bycatch_limits: xr.Dataset
    batches: xr.Dataset
    antenna: xr.Dataset
    elsewhere: xr.Dataset
    warnings: tuple[str, ...] = ()
    hashes: dict[str, str] | None = None

    def __repr__(self) -> str:
        """Say what the campaign holds, in one line."""
        sizes = (
            f"{self.lakes.sizes['lake']} lakes",
            f"{self.seasons.sizes['season']} seasons",
            f"{self.pulls.sizes['pull']} pulls",
            f"{self.fish.sizes['fish']} measured fish",
        )
        return f"<Campaign {self.settings.title!r}: {', '.join(sizes)}>"

    def season_pulls(self, season: int) -> xr.Dataset:
        """Return the pulls of one season, by its position, in time order."""
        return self.pulls.isel(pull=np.flatnonzero(self.pulls["season_index"].values == season))

    def place(self, season: int) -> dict[str, str]:
        """Return lake and label of a season, by its position, as tables have them."""
        return {
            "lake": str(self.seasons["lake"].values[season]),
            "season": str(self.seasons["label"].values[season]),
        }

    def lake_of(self, season: int) -> xr.Dataset:
        """Return the lake of a season, by its position."""
        return self.lakes.isel(lake=int(self.seasons["lake_index"].values[season]))

    @property
    def last_seasons(self) -> dict[str, int]:
        """Position of the season of each lake's last pull, by lake, in the order of the lakes."""
        season = self.pulls["season_index"].values
        season = season[np.argsort(self.pulls["date"].values, kind="stable")]
        lake = self.seasons["lake"].values[season]
        last = dict(zip(lake.tolist(), season.tolist(), strict=True))
        return {name: last[name] for name in self.lakes["lake"].values.tolist() if name in last}

    @property
    def netted(self) -> Campaign:
        """The same campaign with only the seasons that have pulls."""
        kept = np.unique(self.pulls["season_index"].values)
        if len(kept) == self.seasons.sizes["season"]:
            return self
        # The last place is for -1, outside every season.
        place = np.full(self.seasons.sizes["season"] + 1, -1)
        place[kept] = np.arange(len(kept))

        def moved(table: xr.Dataset) -> xr.Dataset:
            index = table["season_index"]
            return table.assign(season_index=index.copy(data=place[index.values]))

        return replace(
            self,
            seasons=self.seasons.isel(season=kept),
            pulls=moved(self.pulls),
            fish=moved(self.fish),
            surveys=moved(self.surveys),
            bycatch=moved(self.bycatch),
            batches=moved(self.batches),
            antenna=moved(self.antenna),
        )

    @property
    def coords(self) -> dict[str, list[str]]:
        """Labels of the dimensions that models share with the records."""
        return {
            "lake": self.lakes["lake"].values.tolist(),
            "season": self.seasons["season"].values.tolist(),
        }

    @property
    def weighed(self) -> IntArray:
        """Number of weighed fish in each season, shape (season,)."""
        index = self.fish["season_index"].values
        known = self.fish["weight"].notnull().values & (index >= 0)
        return np.bincount(index[known], minlength=self.seasons.sizes["season"])

    def to_tree(self) -> xr.DataTree:
        """Return the campaign as a tree of datasets, as it is saved beside a posterior."""
        tree = xr.DataTree.from_dict({name: getattr(self, name) for name in _TABLES})
        tree.attrs = {
            "settings": json.dumps(asdict(self.settings)),
            "warnings": json.dumps(list(self.warnings)),
            "hashes": json.dumps(self.hashes or {}),
        }
        return tree

    @classmethod
    def from_tree(cls, tree: xr.DataTree) -> Campaign:
        """Rebuild a campaign from what `to_tree` returned."""
        return cls(
            settings=Settings(**json.loads(tree.attrs["settings"])),
            **{name: tree[name].to_dataset() for name in _TABLES},
            warnings=tuple(json.loads(tree.attrs["warnings"])),
            hashes=json.loads(tree.attrs["hashes"]),
        )


def read(path: str | os.PathLike[str]) -> Campaign:
    """Read a campaign from a folder of CSV files or one .xlsx workbook.

    Parameters
    ----------
    path : str or path
        The folder or the workbook.

    Returns
    -------
    Campaign

    Raises
    ------
    RecordsError
        If the records have problems; every problem is listed.
    """
    return from_records(read_records(path))


def from_records(records: Records) -> Campaign:
    """Turn clean records into a campaign."""
    lakes = records.lakes.set_index("lake")
    place = {name: position for position, name in enumerate(lakes.index)}
    pulls = records.pulls.assign(place=records.pulls["lake"].map(place))
    pulls = pulls.sort_values(["place", "date", "order"], kind="stable")
    table = lake_seasons(records)
    keys = list(zip(table["lake"], table["season"], strict=True))
    season_of = {key: index for index, key in enumerate(keys)}

    def season_index(rows: pd.DataFrame) -> np.ndarray[Any, np.dtype[np.int64]]:
        of_rows = zip(rows["lake"], rows["season"], strict=True)
        return np.array([season_of.get(key, -1) for key in of_rows], dtype=np.int64)

    usual = {str(lake): float(area) for lake, area in lakes["area_ha"].items()}
    index = season_index(pulls)
    marked = records.marked.assign(season_index=season_index(records.marked))
    deaths = _deaths_in_season(pulls, index, marked, len(keys))
    alive = (marked["released"] - marked["died"]).groupby(marked["season_index"]).sum()
    marked_alive = np.array([float(alive.get(season, 0.0)) for season in range(len(keys))])
    marks_removed = pulls["marks_removed"].to_numpy(dtype=float)
    removed = pulls["removed"].to_numpy(dtype=float)
    moved = season_movements(records.movements, table, marked)
    looks = season_second_looks(records.second_looks, season_index(records.second_looks), len(keys))
    gone = _by_season(removed, index, len(keys)) + deaths.total + moved["moved"]
    change = marked_alive - _by_season(marks_removed, index, len(keys)) - moved["marks_moved"]
    # Those that leave after a season's netting are at large at its end, and not before the next.
    after = moved["marks_moved_after"]
    marks_left = pd.Series(change - after).groupby(table["lake"]).cumsum().to_numpy() + after

    seasons = xr.Dataset(
        {
            "lake": ("season", table["lake"].to_numpy(dtype=np.str_)),
            "lake_index": ("season", table["lake"].map(place).to_numpy(dtype=np.int64)),
            "label": ("season", table["season"].to_numpy(dtype=np.str_)),
            "year": ("season", table["year"].to_numpy(dtype=np.int64)),
            "first_day": ("season", table["first_day"].to_numpy(dtype="datetime64[ns]")),
            "last_day": ("season", table["last_day"].to_numpy(dtype="datetime64[ns]")),
            **{
                f"area_{when}": ("season", area_on(records.areas, table["lake"], table[day], usual))
                for when, day in (("before", "first_day"), ("after", "last_day"))
            },
            "marked": ("season", marked_alive),
            "gone": ("season", gone),
            "carried_most": ("season", marks_left - change),
            "marks_left": ("season", marks_left),
            **{name: ("season", values) for name, values in (moved | looks).items()},
        },
        coords={"season": np.array(told_apart(season_label(*key) for key in keys), dtype=np.str_)},
    )
    pull_arrays = {
        "season_index": index,
        "date": pulls["date"].to_numpy(),
        "net": pulls["net"].to_numpy(dtype=np.str_),
        "caught": pulls["caught"].to_numpy(dtype=float),
        "recaptured": pulls["recaptured"].to_numpy(dtype=float),
        "examined": pulls["examined"].to_numpy(dtype=float),
        "released_again": pulls["released_again"].to_numpy(dtype=float),
        "removed": removed,
        "marks_at_large": pulls["marks_at_large"].to_numpy(dtype=float),
        "marks_removed": marks_removed,
        **season_marks(pulls, index, marked, records.recaptures),
        "gone_before": _running_before(removed, index)
        + deaths.before_pull
        + moved_before_pulls(records.movements, pulls, index),
        "temperature": pulls["water_temp_c"].to_numpy(dtype=float),
        "relative_area": relative_area_on(records.areas, pulls, usual),
        **{name: pulls[name].to_numpy(dtype=float) for name in COVARIATES},
        "spoiled": pulls["spoiled"].to_numpy(dtype=bool),
        "bycatch_counted": pulls["bycatch_counted"].to_numpy(dtype=bool),
    }
    campaign = Campaign(
        settings=records.settings,
        lakes=xr.Dataset(
            {
                "area": ("lake", lakes["area_ha"].to_numpy(dtype=float)),
                "threshold": ("lake", lakes["threshold_kg_per_ha"].to_numpy(dtype=float)),
                "connected": ("lake", lakes["connected"].to_numpy(dtype=bool)),
                "young_eaten": ("lake", lakes["young_eaten"].to_numpy(dtype=bool)),
            },
            coords={"lake": lakes.index.to_numpy(dtype=np.str_)},
        ),
        seasons=seasons,
        pulls=xr.Dataset({name: ("pull", values) for name, values in pull_arrays.items()}),
        fish=_fish(records.measured, season_index(records.measured)),
        bycatch=_bycatch(records.bycatch, season_index(records.bycatch)),
        bycatch_limits=_bycatch_limits(records.bycatch_limits),
        batches=batches_of(pulls, index, marked, records.recaptures),
        surveys=season_surveys(
            records.surveys.assign(
                relative_area=relative_area_on(records.areas, records.surveys, usual)
            ),
            season_index(records.surveys),
            pull_arrays,
            seasons["gone"].values,
        ),
        antenna=heard_tags(records),
        elsewhere=seen_elsewhere(records),
        warnings=tuple(listed(records.warnings)),
        hashes=dict(records.hashes),
    )
    for name in _TABLES:
        _label(getattr(campaign, name))
    return campaign


@by_value
@dataclass(frozen=True)
class _Deaths:
    before_pull: np.ndarray[Any, np.dtype[np.float64]]
    total: np.ndarray[Any, np.dtype[np.float64]]


def _deaths_in_season(
    pulls: pd.DataFrame, index: np.ndarray[Any, Any], marked: pd.DataFrame, seasons: int
) -> _Deaths:
    """Count fish that died of marking after the season's first pull; earlier ones never counted."""
    before = np.zeros(len(pulls))
    total = np.zeros(seasons)
    day = pulls["date"].to_numpy()
    order = pulls["order"].to_numpy(dtype=float)
    for row in rows_of(marked[marked["died"] > 0]):
        season = row.season_index
        mine = index == season
        if season < 0 or not mine.any():
            continue
        same_day = (day == np.datetime64(row.date)) & (order > row.order)
        later = mine & ((day > np.datetime64(row.date)) | same_day)
        if later.sum() < mine.sum():
            before[later] += row.died
            total[season] += row.died
    return _Deaths(before, total)


def _by_season(values: Any, index: Any, count: int) -> Any:
    return np.bincount(index, weights=values, minlength=count)


def _running_before(values: Any, index: Any) -> Any:
    running = pd.Series(values).groupby(index).cumsum().to_numpy()
    return running - values


def _fish(measured: pd.DataFrame, index: Any) -> xr.Dataset:
    return xr.Dataset(
        {
            "season_index": ("fish", index),
            "date": ("fish", measured["date"].to_numpy(dtype="datetime64[ns]")),
            "net": ("fish", measured["net"].to_numpy(dtype=np.str_)),
            "length": ("fish", measured["length_mm"].to_numpy(dtype=float)),
            "weight": ("fish", measured["weight_kg"].to_numpy(dtype=float)),
        }
    )


def _bycatch(bycatch: pd.DataFrame, index: Any) -> xr.Dataset:
    return xr.Dataset(
        {
            "season_index": ("bycatch", index),
            "date": ("bycatch", bycatch["date"].to_numpy(dtype="datetime64[ns]")),
            "net": ("bycatch", bycatch["net"].to_numpy(dtype=np.str_)),
            "species": ("bycatch", bycatch["species"].to_numpy(dtype=np.str_)),
            "count": ("bycatch", bycatch["count"].to_numpy(dtype=float)),
            "dead": ("bycatch", bycatch["dead"].to_numpy(dtype=float)),
        }
    )


def _bycatch_limits(limits: pd.DataFrame) -> xr.Dataset:
    return xr.Dataset(
        {
            **{
                name: ("bycatch_limit", limits[column].to_numpy(dtype=np.str_))
                for name, column in (
                    ("species", "species"),
                    ("lake", "lake"),
                    ("label", "season"),
                    ("fish", "fish"),
                )
            },
            "limit": ("bycatch_limit", limits["limit"].to_numpy(dtype=float)),
        }
    )


def _label(dataset: xr.Dataset) -> None:
    labels = _LABELS | {name: (one.unit, one.meaning) for name, one in COVARIATES.items()}
    for name, variable in dataset.data_vars.items():
        unit, long_name = labels[str(name)]
        variable.attrs["long_name"] = long_name
        if unit is not None:
            variable.attrs["units"] = unit
