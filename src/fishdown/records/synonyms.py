"""What crews call the columns of a table, to guess which one a heading means."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from fishdown.records.problems import nearest
from fishdown.records.unread import meaning_of
from fishdown.records.us_columns import METRIC, us_name, with_us_names

if TYPE_CHECKING:
    from collections.abc import Iterable

# Common practice, no source. Where a heading has words of several columns, the first counts.
_CALLED = {
    "water_temp_c": {"temp", "temperature", "temps"},
    "recaptured": {"marked", "recap", "recaps", "recapture", "recaptures", "clipped", "tagged"},
    "weight_kg": {"weight", "wt", "mass"},
    "length_mm": {"length", "len", "tl"},
    "area_ha": {"area", "surface", "size", "acres", "hectares"},
    "mesh_mm": {"mesh"},
    "effort_h": {"hours", "hrs", "soak", "effort"},
    "caught": {"carp", "fish", "catch", "catches", "number", "total"},
    "count": {"number", "fish", "caught"},
    "lake": {"water", "waterbody", "pond", "basin", "site"},
    "net": {"trap", "station"},
    "date": {"day"},
    "mark": {"type", "kind", "clip"},
}
# Units of which a column has no name: what is under such a heading must be converted by hand.
_OTHER_UNITS = {
    "cm", "centimeters", "centimetres", "m", "g", "gram", "grams", "oz", "ounces", "ft", "feet",
    "mi", "km"
}  # fmt: skip
_US = {"f", "fahrenheit", "lb", "lbs", "pound", "pounds", "in", "inch", "inches", "acre", "acres"}


def column_meant(heading: str, columns: Iterable[str]) -> str | None:
    """Return the column that a heading most likely means; None if it may be none.

    Parameters
    ----------
    heading : str
        As it stands in the file.
    columns : iterable of str
        Those that the table may have and has not.
    """
    columns = list(columns)
    words = set(re.findall(r"[^\W\d_]+", heading.lower()))
    for column, called in _CALLED.items():
        if column in columns and words & called:
            return us_name(column) if words & _US else column
    return nearest(heading, with_us_names(columns))


def columns_meant(headings: Iterable[str], columns: Iterable[str], table: str) -> dict[str, str]:
    """Return the column that each heading most likely means, where no other means the same.

    Parameters
    ----------
    headings : iterable of str
        Of columns that are not read.
    columns : iterable of str
        Those that the table may have and has not.
    table : str

    Returns
    -------
    dict of str to str
        Heading to column. Headings with a unit that no column has are left out.
    """
    columns = list(columns)
    found: dict[str, str] = {}
    for heading in headings:
        words = set(re.findall(r"[^\W\d_]+", heading.lower()))
        if not heading or words & _OTHER_UNITS or meaning_of(table, heading) is not None:
            continue
        if column := column_meant(heading, columns):
            found[heading] = column
    claims = [METRIC.get(column, column) for column in found.values()]
    return {
        heading: column
        for heading, column in found.items()
        if claims.count(METRIC.get(column, column)) == 1
    }
