"""Runs of another gear than the nets: electrofishing, a seine."""

from __future__ import annotations

import pandas as pd

from fishdown.records.tables import TEXT, empty_frame


def no_surveys() -> pd.DataFrame:
    """Return the table of a campaign without runs of another gear."""
    frame = empty_frame("surveys")
    return clean_surveys(frame.assign(season=pd.Series(dtype=TEXT)))


def clean_surveys(surveys: pd.DataFrame) -> pd.DataFrame:
    """Fill what was left out: all fish of a run were looked at, or none if no marks are told.

    Parameters
    ----------
    surveys : pandas.DataFrame
        As written, with ``season``.
    """
    looked = surveys["marked"].notna()
    return surveys.assign(
        marking_gear=surveys["marking_gear"].fillna(value=False).astype("bool"),
        examined=surveys["examined"].fillna(surveys["caught"]).where(looked, 0.0),
        marked=surveys["marked"].fillna(0.0),
        marks_at_large=0.0,
    )
