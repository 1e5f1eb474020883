"""Fish that were looked at twice for marks."""

from __future__ import annotations

import pandas as pd

from fishdown.records.tables import TEXT, empty_frame


def no_second_looks() -> pd.DataFrame:
    """Return the table of a campaign in which no fish was looked at twice."""
    return empty_frame("second_looks").assign(season=pd.Series(dtype=TEXT))
