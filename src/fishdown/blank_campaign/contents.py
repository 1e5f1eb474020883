"""What a new campaign holds: settings with their meaning, columns, and an example of a row."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from fishdown.records.rules_examples import EXAMPLE_LAKE
from fishdown.records.tables import TABLES
from fishdown.records.us_columns import us_field, us_name, us_unit
from fishdown.units import three_digits

if TYPE_CHECKING:
    from collections.abc import Mapping

    from fishdown.records.field import Field

# What a day of netting was like, invented; every lake is the example. In metric units.
_DAY, _MARKING_DAY = "2025-06-10", "2025-04-25"
_EXAMPLES: Mapping[str, Mapping[str, str | float]] = {
    "lakes": {"area_ha": 25, "connected": "no", "young_eaten": "no"},
    "pulls": {
        "date": _DAY, "net": "north bay", "order": 1, "caught": 120, "recaptured": 4,
        "examined": "", "released_again": 0, "water_temp_c": 20, "spoiled": "no",
        "bycatch_counted": "yes",
    },
    "marked": {
        "date": _MARKING_DAY, "batch": "spring 2025", "mark": "fin_clip", "released": 60,
        "died": 1,
    },
    "measured": {"date": _DAY, "net": "north bay", "length_mm": 560, "weight_kg": 2.5},
    "bycatch": {
        "date": _DAY, "net": "north bay", "species": "channel catfish", "count": 2, "dead": 0,
    },
}  # fmt: skip
# Besides what a cell may hold: what a crew would ask about a column.
_MEANING = {
    "area_ha": "at its usual water level; areas by date stand in a table of their own, areas",
    "connected": "whether fish can come in from other waters",
    "young_eaten": "whether sunfish or others eat most eggs and fry",
    "recaptured": "0 if it was examined and had none; empty if it was not examined",
    "examined": "empty if all of the catch was examined",
    "caught": "all target fish of the pull, marked ones too",
    "order": "which pull of the day it was",
    "spoiled": "yes if the net failed to fish properly",
    "bycatch_counted": "whether somebody counted the bycatch of this pull",
    "released": "all marked fish released, with those that died later",
    "batch": "fish marked together in the same way",
}

# Setting → value, what it is, and whether it is to be filled in; others stand as comments.
SETTINGS: tuple[tuple[str, str | float, str, bool], ...] = (
    ("title", "", "name of the campaign, for headings", True),
    ("species", "common carp", "the fish that is removed", True),
    ("threshold_kg_per_ha", 100, "biomass density to get below, in {unit}", True),
    ("units", "metric", "units of the results, metric or us", True),
    ("currency", "EUR", "currency of the costs", False),
    ("cost_per_pull", 180, "cost of one pull", False),
    ("cost_per_field_day", 950, "cost of one field day", False),
    ("dates", "year-month-day", "how dates are written, if not so", False),
    ("decimal", "point", "point or comma", False),
    ("time_zone", "America/Chicago", "of an antenna's clock without an offset", False),
)


@dataclass(frozen=True)
class BlankColumn:
    """A column of a new campaign.

    Attributes
    ----------
    name : str
        Its heading.
    field : Field
        What it holds, in its unit.
    example : str or float
        What stands in it in the example row.
    meaning : str
        What it is, and what to write.
    """

    name: str
    field: Field
    example: str | float
    meaning: str


def blank_tables(*, us: bool) -> dict[str, list[BlankColumn]]:
    """Return the tables of a new campaign with their columns.

    Parameters
    ----------
    us : bool
        Whether in US customary units.
    """
    return {table: _columns(table, us=us) for table in _EXAMPLES}


def settings(*, us: bool) -> list[tuple[str, str | float, str, bool]]:
    """Return the settings of a new campaign: name, value, meaning, and whether to fill it in."""
    found = []
    for setting, number, meaning, needed in SETTINGS:
        name, value, unit = us_name(setting) if us else setting, number, "kg/ha"
        if name != setting:
            unit = us_unit(setting).unit
            value = round(us_unit(setting).from_metric(float(value)))
        if name == "units":
            value = "us" if us else "metric"
        found.append((name, value, meaning.format(unit=unit), needed))
    return found


def _columns(table: str, *, us: bool) -> list[BlankColumn]:
    example: dict[str, str | float] = {**_EXAMPLES[table], "lake": EXAMPLE_LAKE}
    columns = []
    for name, field in TABLES[table].items():
        if name not in example:
            continue
        heading, holds, value = us_name(name) if us else name, field, example[name]
        if heading != name:
            holds = us_field(name, field)
            value = three_digits(us_unit(name).from_metric(float(value)))
        meaning = f"{holds.what}; {_MEANING[name]}" if name in _MEANING else holds.what
        columns.append(BlankColumn(heading, holds, value, meaning))
    return columns
