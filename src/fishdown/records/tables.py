"""The tables of a campaign and their columns."""

from __future__ import annotations

from collections import namedtuple
from functools import cache
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from fishdown.records.covariates import COVARIATES, Covariate
from fishdown.records.field import Field
from fishdown.records.plausible import PLAUSIBLE

if TYPE_CHECKING:
    from collections.abc import Iterator

    from fishdown.records.cells import Kind


# More fish than any lake holds; keeps a typing error from overflowing a whole number.
MOST_FISH = 10_000_000


def _fish(what: str, *, required: bool = False) -> Field:
    return Field("count", f"{what}, 0 or more", required, least=0, most=MOST_FISH)


def _plausible(column: str, what: str, *, required: bool = False) -> Field:
    within = PLAUSIBLE[column]
    return Field("number", f"{what}, {within}", required, within=within)


def _covariate(one: Covariate) -> Field:
    return Field("number", f"{one.what}, {one.within}", within=one.within, shared=True)


_DATE = Field("date", "the date as year-month-day, such as 2025-06-14", True)
_LAKE = Field("text", "the name of the lake as in the lakes table", True)
_NET = Field("text", "the name of the net", True)
_ORDER = Field("count", "the number of the pull within its day: 1, 2, …", least=1, most=MOST_FISH)

_TIME = Field("time", "the time with its zone, such as 2025-06-14T22:05:00Z", True)
# A clock further off has lost its date, and tells no time.
_DAY_S = 86_400

# In a limit of the bycatch, in place of a species or of a lake: all of them together.
ALL = "all"

# Marked fish kept in a pen after marking: how many, and of them alive and still marked at the end.
PEN = ("penned", "pen_alive", "pen_marked")

TABLES: dict[str, dict[str, Field]] = {
    "lakes": {
        "lake": Field("text", "the name of the lake", True),
        "area_ha": _plausible("area_ha", "the area of the lake", required=True),
        "threshold_kg_per_ha": _plausible(
            "threshold_kg_per_ha", "the biomass density to get below"
        ),
        "connected": Field("yes_no", "yes or no"),
        "young_eaten": Field("yes_no", "yes or no"),
    },
    "areas": {
        "date": _DATE,
        "lake": _LAKE,
        "area_ha": _plausible("area_ha", "the area of the lake on that day", required=True),
    },
    "marked": {
        "date": _DATE,
        "lake": _LAKE,
        "batch": Field("text", "the name of the batch", True),
        "mark": Field("mark", "fin_clip, pit_tag or both", True),
        "released": _fish("the number of marked fish released", required=True),
        "died": _fish("the number of them that died"),
        "order": _ORDER,
        "penned": _fish("the number of marked fish kept in a pen"),
        "pen_alive": _fish("the number of penned fish alive at the end"),
        "pen_marked": _fish("the number of those whose mark was found again"),
    },
    "pulls": {
        "date": _DATE,
        "lake": _LAKE,
        "net": _NET,
        "caught": _fish("the number of fish", required=True),
        "recaptured": _fish("the number of marked fish in the catch"),
        "examined": _fish("the number of fish of the catch looked at for marks, if not all were"),
        "released_again": _fish("the number of fish put back alive"),
        "season": Field("text", "the season, such as 2025"),
        "order": _ORDER,
        "water_temp_c": Field(
            "number", "the water temperature in °C, −1 to 40", least=-1, most=40, shared=True
        ),
        **{name: _covariate(one) for name, one in COVARIATES.items()},
        "spoiled": Field("yes_no", "yes or no"),
        "bycatch_counted": Field("yes_no", "yes or no"),
    },
    "recaptures": {
        "date": _DATE,
        "lake": _LAKE,
        "net": _NET,
        "order": _ORDER,
        "batch": Field("text", "the name of the batch as in the table of marked fish"),
        "count": _fish("the number of recaptured fish"),
        "tag_id": Field("text", "the number of the tag"),
        "clip_seen": Field("yes_no", "yes or no"),
        "tag_read": Field("yes_no", "yes or no"),
    },
    "measured": {
        "date": _DATE,
        "lake": _LAKE,
        "net": Field("text", "the name of the net"),
        "length_mm": _plausible("length_mm", "the length of the fish"),
        "weight_kg": _plausible("weight_kg", "the weight of the fish"),
    },
    "movements": {
        "date": _DATE,
        "lake": _LAKE,
        "movement": Field(
            "movement",
            "stocked, moved_in, moved_out, angled, seined, found_dead or winterkill",
            True,
        ),
        "fish": _fish("the number of target fish"),
        "share": Field("number", "the share of the fish that died, 0 to 1", least=0, most=1),
        "marked": _fish("the number of marked fish among them"),
        "standard_error": Field(
            "number",
            "the standard error of the number of fish, or of the share, if it is an estimate",
            least=0,
            most=MOST_FISH,
        ),
        "other_lake": Field("text", "the lake that they came from or went to"),
    },
    "surveys": {
        "date": _DATE,
        "lake": _LAKE,
        "gear": Field("text", "the gear, such as seine", True),
        "marking_gear": Field("yes_no", "yes if fish were marked with this gear, else no", True),
        "caught": _fish("the number of fish", required=True),
        "examined": _fish("the number of them looked at for marks, if not all were"),
        "marked": _fish("the number of marked fish among those looked at"),
        "effort_h": _plausible("effort_h", "the effort"),
    },
    "second_looks": {
        "date": _DATE,
        "lake": _LAKE,
        "examiner": Field("text", "who looked at the fish first"),
        "found_first": _fish("the number of marked fish found at the first look", required=True),
        "found_second": _fish(
            "the number of marked fish found only at the second look", required=True
        ),
    },
    "bycatch": {
        "date": _DATE,
        "lake": _LAKE,
        "net": _NET,
        "species": Field("text", "the species", True),
        "count": _fish("the number of fish", required=True),
        "dead": _fish("the number of them that were dead"),
    },
    "bycatch_limits": {
        "species": Field("text", "the species as in the table of bycatch, or all", True),
        "lake": Field("text", "the name of the lake as in the lakes table, or all", True),
        "season": Field("text", "the season, such as 2025"),
        "limit": _fish("the number of fish that may be caught in a season", required=True),
        "fish": Field("limited", "all (all fish caught) or dead (dead fish only)", True),
    },
    "species_names": {
        "species": Field("text", "the species as in the other tables", True),
        "scientific_name": Field("text", "the scientific name, such as Cyprinus carpio", True),
    },
    "tags": {
        "lake": _LAKE,
        "batch": Field("text", "the name of the batch as in the table of marked fish", True),
        "tag_id": Field("text", "the number of a tag that was released", True),
    },
    "detections": {
        "time": _TIME,
        "lake": _LAKE,
        "net": _NET,
        "tag_id": Field("text", "the number of the tag", True),
    },
    "clock_checks": {
        "time": _TIME,
        "lake": _LAKE,
        "net": Field("text", "the name of the net"),
        "fast_s": Field(
            "number",
            "by how many seconds the antenna's clock was fast (slow: negative)",
            True,
            least=-_DAY_S,
            most=_DAY_S,
        ),
    },
}


def add_covariate(column: str, covariate: Covariate) -> None:
    """Let the table of pulls have one more covariate, for models of one's own.

    Parameters
    ----------
    column : str
        Its name in pulls.csv.
    """
    COVARIATES[column] = covariate
    TABLES["pulls"][column] = _covariate(covariate)


def remove_covariate(column: str) -> None:
    """Take a covariate that was added out of the table of pulls again."""
    del COVARIATES[column], TABLES["pulls"][column]


REQUIRED_TABLES = ("lakes", "pulls")

# Text as plain objects: kept as pandas would by default, in Arrow, a short table takes half as long
# again to read, and a long one no less.
TEXT = pd.StringDtype("python", na_value=np.nan)
# The type of a column of each kind, and what stands for an empty cell.
DTYPES: dict[Kind, Any] = {
    "text": TEXT,
    "mark": TEXT,
    "limited": TEXT,
    "movement": TEXT,
    "yes_no": "boolean",
    "number": "float64",
    "count": "float64",
    "date": "datetime64[us]",
    "time": "datetime64[us, UTC]",
}
MISSING: dict[Kind, object] = {
    "text": "",
    "mark": "",
    "limited": "",
    "movement": "",
    "yes_no": pd.NA,
    "number": np.nan,
    "count": np.nan,
    "date": pd.NaT,
    "time": pd.NaT,
}


def empty_frame(name: str) -> pd.DataFrame:
    """Make a table without rows."""
    return _empty(tuple((column, field.kind) for column, field in TABLES[name].items())).copy()


@cache
def _empty(kinds: tuple[tuple[str, Kind], ...]) -> pd.DataFrame:
    columns = {column: pd.Series([], dtype=DTYPES[kind]) for column, kind in kinds}
    if "time" in columns:
        columns["local"] = pd.Series([], dtype=DTYPES["date"])
    return pd.DataFrame(columns | {"row": pd.Series([], dtype="int64")})


def required_columns(name: str) -> list[str]:
    """List the columns that a table must have."""
    return [column for column, field in TABLES[name].items() if field.required]


def rows_of(frame: pd.DataFrame) -> Iterator[Any]:
    """Go through a table row by row.

    Yields
    ------
    namedtuple
        The columns by name, ``row`` the line in the file and ``Index`` the index label.
    """
    # As `itertuples`, which makes this type anew and cuts out columns each time: for short tables
    # that was most of the time.
    if len(frame):
        make = _row_type(tuple(frame.columns))
        yield from map(make._make, zip(frame.index, *(frame[name] for name in frame), strict=True))


@cache
def _row_type(columns: tuple[str, ...]) -> Any:
    return namedtuple("Row", ["Index", *columns], rename=True)
