"""Of which pulls the records say what bycatch they had, none included."""

from __future__ import annotations

import pandas as pd

_DAY = ["date", "lake", "net"]
_SEASON = ["lake", "season"]


def bycatch_counted(pulls: pd.DataFrame, bycatch: pd.DataFrame) -> pd.Series[bool]:
    """Return whether the bycatch of each pull is known, none being an answer.

    What the crew wrote of the pull holds. Else it is known if the net has a row of bycatch on that
    day. A pull without a row had none if the crew noted the bycatch of the season as crews mostly
    do, by a row for what was there and none for what was not (common practice, no source): the
    season of the lake has rows, and none of them says 0. Rows of 0 show a crew that writes down
    empty catches, too; a pull without a row is then one that nobody looked at.

    Parameters
    ----------
    pulls : pandas.DataFrame
        Columns ``date``, ``lake``, ``season``, ``net`` and ``bycatch_counted`` as written.
    bycatch : pandas.DataFrame
        Columns ``date``, ``lake``, ``season``, ``net`` and ``count``.

    Returns
    -------
    pandas.Series of bool
        Indexed like `pulls`.
    """
    written = pulls["bycatch_counted"]
    if bycatch.empty:
        return written.fillna(value=False).astype("bool")
    noted = _of(pulls, _DAY).isin(_of(bycatch, _DAY))
    seasons = _of(pulls, _SEASON)
    by_presence = seasons.isin(_of(bycatch, _SEASON))
    by_presence &= ~seasons.isin(_of(bycatch[bycatch["count"] == 0], _SEASON))
    known = pd.Series(noted | by_presence, index=pulls.index)
    return written.astype("object").where(written.notna(), known).astype("bool")


def _of(table: pd.DataFrame, columns: list[str]) -> pd.MultiIndex:
    return pd.MultiIndex.from_frame(table[columns])
