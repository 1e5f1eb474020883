"""Tables of results in the units that are shown; every frame in the program itself is metric."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from fishdown.units import US_UNITS, in_us, label, shown, shown_change

if TYPE_CHECKING:
    from collections.abc import Sequence

    import pandas as pd

# What the name of a column ends with → its unit, and the end in US customary units.
ENDS = {
    "_kg_per_ha": ("kg/ha", "_lb_per_acre"),
    "_kg": ("kg", "_lb"),
    "_fish_per_ha": ("fish/ha", "_fish_per_acre"),
    "_ha": ("ha", "_acres"),
    "_c": ("°C", "_f"),
}
# A table with a row for each quantity has the unit in the row.
_BY_ROW = "unit"
_VALUES = ("mean", "median", "estimate", "low", "high", "alone_median", "alone_low", "alone_high")
_CHANGE = "sd"
# Of the years ahead: the removal is in fish, in kg or a share.
_REMOVAL, _KIND = "removal_a_year", "removal_kind"


def unit_of(column: str) -> tuple[str, str] | None:
    """Return the unit of a column and its name in US customary units; None if it stays as it is."""
    for end, (unit, other) in ENDS.items():
        if column.endswith(end):
            return unit, column.removesuffix(end) + other
    if column == "kg" or column.startswith("kg_"):
        return "kg", f"lb{column.removeprefix('kg')}"
    return None


def shown_name(column: str) -> str:
    """Return the name of a column as files have it."""
    found = unit_of(column) if in_us() else None
    return found[1] if found else column


def shown_value(frame: pd.DataFrame, row: int, column: str) -> Any:
    """Return a cell of a frame in the unit that is shown."""
    value = frame[column].iloc[row]
    if not in_us() or isinstance(value, str):
        return value
    if found := unit_of(column):
        return shown(value, found[0])
    if _BY_ROW in frame and column in (*_VALUES, _CHANGE):
        change = shown_change if column == _CHANGE else shown
        return change(value, str(frame[_BY_ROW].iloc[row]))
    return value


def shown_values(frame: pd.DataFrame) -> pd.DataFrame:
    """Return a table of results in the units that are shown, under the names it has."""
    if not in_us():
        return frame
    frame = frame.copy()
    for column in frame.columns:
        if found := unit_of(str(column)):
            frame[column] = shown(frame[column], found[0])
    if _BY_ROW in frame:
        for unit in US_UNITS:
            rows = frame[_BY_ROW] == unit
            for column in (*_VALUES, _CHANGE):
                if column in frame and rows.any():
                    change = shown_change if column == _CHANGE else shown
                    frame.loc[rows, column] = change(frame.loc[rows, column], unit)
        frame[_BY_ROW] = frame[_BY_ROW].map(label)
    return frame


def shown_frame(frame: pd.DataFrame) -> pd.DataFrame:
    """Return a table of results as files have it: units as they are shown, and named so."""
    if not in_us():
        return frame
    frame = shown_values(frame)
    if _REMOVAL in frame:
        rows = frame[_KIND] == "kg"
        frame.loc[rows, _REMOVAL] = shown(frame.loc[rows, _REMOVAL], "kg")
        frame[_KIND] = frame[_KIND].map(label)
    return frame.rename(columns=shown_name)


def shown_columns(columns: Sequence[str]) -> list[str]:
    """Return the columns of a table as files have them."""
    return [shown_name(column) for column in columns]


def metric_frame(frame: pd.DataFrame, columns: Sequence[str]) -> pd.DataFrame:
    """Return a table that was read from a file in metric units.

    Parameters
    ----------
    columns : sequence of str
        Its columns as the program has them.
    """
    if not in_us():
        return frame
    frame = frame.rename(columns=dict(zip(shown_columns(columns), columns, strict=True)))
    for column in columns:
        if found := unit_of(column):
            frame[column] = US_UNITS[found[0]].to_metric(frame[column])
    if _REMOVAL in frame:
        rows = frame[_KIND] == "lb"
        frame.loc[rows, _REMOVAL] = US_UNITS["kg"].to_metric(frame.loc[rows, _REMOVAL])
        frame[_KIND] = frame[_KIND].replace("lb", "kg")
    return frame
