"""What crews call the columns of a table, to guess which one a heading means."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from fishdown.records.problems import nearest
from fishdown.records.us_columns import us_name, with_us_names

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
}
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
