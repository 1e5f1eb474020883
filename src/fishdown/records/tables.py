"""The tables of a campaign: their columns, and the check of every cell.

Every cell is parsed from its text, as written, so that the problem can show it; its range is
checked there and then. A validation library would check the parsed frame once more, without the
text.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from fishdown.records.cells import CellError, Kind, parse
from fishdown.records.codes import Odd, Wrong
from fishdown.records.covariates import COVARIATES, Covariate
from fishdown.records.plausible import PLAUSIBLE, Range
from fishdown.records.problems import Problem, nearest
from fishdown.records.unread import meaning_of

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping
    from datetime import tzinfo

    from fishdown.records.text import TextTable


@dataclass(frozen=True)
class Field:
    """One column of a table.

    Attributes
    ----------
    kind : str
        What its cells hold.
    what : str
        What to write in it; completes "write …".
    required : bool
        True if the column must be there and every cell filled.
    least, most : float or None
        Range of a number: not below `least`, not beyond `most`.
    within : Range or None
        What any real water, fish or net can be, for a number in general terms.
    """

    kind: Kind
    what: str
    required: bool = False
    least: float | None = None
    most: float | None = None
    within: Range | None = None


# More fish than any lake holds; keeps a typing error from overflowing a whole number.
_MOST_FISH = 10_000_000


def _fish(what: str, *, required: bool = False) -> Field:
    return Field("count", f"{what}, 0 or more", required, least=0, most=_MOST_FISH)


def _plausible(column: str, what: str, *, required: bool = False) -> Field:
    within = PLAUSIBLE[column]
    return Field("number", f"{what}, {within}", required, within=within)


def _covariate(one: Covariate) -> Field:
    return Field("number", f"{one.what}, {one.within}", within=one.within)


_DATE = Field("date", "the date as year-month-day, such as 2025-06-14", True)
_LAKE = Field("text", "the name of the lake as in the lakes table", True)
_NET = Field("text", "the name of the net", True)
_ORDER = Field("count", "the number of the pull within its day: 1, 2, …", least=1, most=_MOST_FISH)

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
        "water_temp_c": Field("number", "the water temperature in °C, −1 to 40", least=-1, most=40),
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
            most=_MOST_FISH,
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

# More wrong cells than this, and more than half of a column, are one error.
_FEW = 5

_DTYPES: dict[Kind, str] = {
    "text": "str",
    "mark": "str",
    "limited": "str",
    "movement": "str",
    "yes_no": "boolean",
    "number": "float64",
    "count": "float64",
    "date": "datetime64[us]",
    "time": "datetime64[us, UTC]",
}
_MISSING: dict[Kind, object] = {
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
    columns = {
        column: pd.Series([], dtype=_DTYPES[field.kind]) for column, field in TABLES[name].items()
    }
    if "time" in columns:
        columns["local"] = pd.Series([], dtype=_DTYPES["date"])
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
    yield from frame.itertuples(name="Row")


def read_table(
    name: str, text: TextTable, zone: tzinfo | None = None
) -> tuple[pd.DataFrame, list[Problem]]:
    """Read the values of one table and check each by itself.

    Parameters
    ----------
    zone : datetime.tzinfo, optional
        Of clocks that wrote times without an offset.

    Returns
    -------
    frame : pandas.DataFrame
        One row a row, all known columns and ``row``; a cell that is empty or wrong is missing
        (NaN, NaT, NA or the empty text). Counts are floats here, since they may be missing.
        A table with ``time`` also has ``local``, what a clock beside the lake showed.
    problems : list of Problem
        Every column and cell that is wrong.
    """
    fields = TABLES[name]
    problems = _column_problems(name, text, fields)
    columns: dict[str, pd.Series[Any]] = {}
    for column, field in fields.items():
        cells = text.cells.get(column, [""] * len(text.rows))
        # A required column that is missing altogether is one problem, not one a row.
        values, found = _values(text, column, field, cells, zone, report=column in text.cells)
        if field.kind == "time":
            columns[column], columns["local"] = _moments(values)
        else:
            columns[column] = pd.Series(values, dtype=_DTYPES[field.kind])
        problems += _gathered(found, column, cells)
    return pd.DataFrame(columns | {"row": pd.Series(text.rows, dtype="int64")}), problems


def _refuse_beyond(value: object, field: Field) -> None:
    """Refuse a number outside the range of its column."""
    if not isinstance(value, float):
        return
    if field.least is not None and value < field.least:
        if field.least == 0:
            raise CellError(Wrong.NEGATIVE_COUNT if field.kind == "count" else Wrong.NEGATIVE)
        raise CellError(Wrong.BELOW, least=f"{field.least:g}".replace("-", "−"))
    if field.most is not None and value > field.most:
        many = Wrong.MORE_FISH_THAN_A_LAKE_HOLDS
        raise CellError(many if field.most == _MOST_FISH else Wrong.ABOVE, most=field.most)
    if field.within is None:
        return
    if value < 0 or (value == 0 and field.within.least > 0):
        raise CellError(Wrong.ZERO_OR_NEGATIVE if field.within.least > 0 else Wrong.NEGATIVE)
    if value < field.within.least:
        raise CellError(Wrong.IMPLAUSIBLY_SMALL)
    if value > field.within.most:
        raise CellError(Wrong.IMPLAUSIBLY_LARGE)


def _moments(values: list[Any]) -> tuple[pd.Series[Any], pd.Series[Any]]:
    """Return moments in universal time, and what a clock beside the lake showed."""
    # Offsets are few; taking each from the stamps at once is faster than one by one.
    away = [None if value is pd.NaT else value.utcoffset() for value in values]
    shown = pd.Series(
        [value if value is pd.NaT else value.replace(tzinfo=None) for value in values],
        dtype=_DTYPES["date"],
    )
    offsets = pd.Series(away, dtype="timedelta64[us]")
    return (shown - offsets).dt.tz_localize("UTC"), shown


def _values(
    text: TextTable,
    column: str,
    field: Field,
    cells: list[str],
    zone: tzinfo | None,
    *,
    report: bool,
) -> tuple[list[Any], list[Problem]]:
    values, problems = [], []
    # An antenna writes the same few names half a million times.
    known: dict[str, object] = {}
    for row, cell in zip(text.rows, cells, strict=True):
        value = _MISSING[field.kind]
        if cell in known:
            value = known[cell]
        elif cell:
            try:
                parsed = parse(cell, field.kind, zone)
                _refuse_beyond(parsed, field)
                value = parsed
                if field.kind != "time":
                    known[cell] = value
            except CellError as error:
                problems.append(error.at(text.file, row, column, cell, advice=_advice(field)))
        elif field.required and report:
            said = {"advice": _advice(field)}
            problems.append(Problem(Wrong.EMPTY_CELL, text.file, row, column, values=said))
        values.append(value)
    return values, problems


def _gathered(problems: list[Problem], column: str, cells: list[str]) -> list[Problem]:
    """Make one problem of an error throughout a column, such as the form of its dates."""
    alike: dict[str, list[Problem]] = {}
    for problem in problems:
        alike.setdefault(problem.wrong, []).append(problem)
    written = sum(1 for cell in cells if cell)
    gathered = []
    for group in alike.values():
        if len(group) <= _FEW or len(group) <= written / 2:
            gathered += group
            continue
        rows = [problem.row for problem in group]
        gathered.append(replace(group[0], values={**group[0].values, "throughout": rows}))
    return gathered


def _column_problems(table: str, text: TextTable, fields: Mapping[str, Field]) -> list[Problem]:
    problems = [
        Problem(
            Wrong.MISSING_COLUMN, text.file, text.header_row, column, values={"what": field.what}
        )
        for column, field in fields.items()
        if field.required and column not in text.cells
    ]
    for column in text.cells:
        # A column that may contradict the counts has rules of its own.
        if column not in fields and meaning_of(table, column) is None:
            said = {"like": nearest(column, fields), "known": list(fields)}
            unknown = Problem(Odd.UNKNOWN_COLUMN, text.file, text.header_row, column, values=said)
            problems.append(unknown)
    return problems


def _advice(field: Field) -> str:
    return f"write {field.what}" + ("" if field.required else ", or leave the cell empty")
