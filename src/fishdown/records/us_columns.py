"""Columns in US customary units: names of their own, converted as they are read."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from fishdown.records.plausible import Range
from fishdown.units import US_UNITS, three_digits

if TYPE_CHECKING:
    from collections.abc import Iterable

    from fishdown.records.field import Field
    from fishdown.units import UsUnit

# Column → its name in US customary units, its metric unit, and what it holds.
_US = {
    "area_ha": ("area_acres", "ha", "the area of the lake"),
    "threshold_kg_per_ha": ("threshold_lb_per_acre", "kg/ha", "the biomass density to get below"),
    "water_temp_c": ("water_temp_f", "°C", "the water temperature"),
    "mesh_mm": ("mesh_in", "mm", "the mesh size"),
    "length_mm": ("length_in", "mm", "the length of the fish"),
    "weight_kg": ("weight_lb", "kg", "the weight of the fish"),
}
# The name in US customary units → the column.
METRIC = {name: column for column, (name, _, _) in _US.items()}


def us_names(columns: Iterable[str]) -> dict[str, str]:
    """Return the columns that have a name in US customary units, with this name."""
    return {column: _US[column][0] for column in columns if column in _US}


def us_name(column: str) -> str:
    """Return the name of a column in US customary units; its own if it has no unit."""
    return us_names([column]).get(column, column)


def with_us_names(columns: Iterable[str]) -> list[str]:
    """Return columns, and behind them the names in US customary units of those that have one."""
    columns = list(columns)
    return [*columns, *us_names(columns).values()]


def us_unit(column: str) -> UsUnit:
    """Return the US customary unit of a column."""
    return US_UNITS[_US[column][1]]


def us_field(column: str, field: Field) -> Field:
    """Return what a column holds if it is written in US customary units."""
    _, _, what = _US[column]
    unit = us_unit(column)
    if field.within is not None:
        within = Range(
            three_digits(unit.from_metric(field.within.least)),
            three_digits(unit.from_metric(field.within.most)),
            unit.unit,
        )
        return replace(field, what=f"{what}, {within}", within=within)
    ends = [field.least, field.most]
    least, most = (None if end is None else unit.from_metric(end) for end in ends)
    return replace(
        field, what=f"{what} in {unit.unit}, {least:.0f} to {most:.0f}", least=least, most=most
    )
