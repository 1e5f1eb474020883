"""What can be estimated about the marks themselves from one season's recaptures."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fishdown.heard_tags import tag_histories
from fishdown.identifiability.codes import Identified, Remark
from fishdown.records.lake_years import lake_seasons
from fishdown.records.tables import rows_of
from fishdown.sentences import Said

if TYPE_CHECKING:
    import pandas as pd

    from fishdown.records.checked import Records
    from fishdown.records.visits import Heard

# Fewer catches than this do not determine the overdispersion of recaptures (our judgement, no
# source).
FEWEST_LOOKS = 5


def told_of_marks(
    pulls: pd.DataFrame, marked: pd.DataFrame, recaptures: pd.DataFrame
) -> tuple[list[Said], list[Said]]:
    """List what can be estimated of overdispersion, batches and shedding, and what to remark.

    Parameters
    ----------
    pulls, marked, recaptures : pandas.DataFrame
        Clean tables of one lake and season with informative marks.

    Returns
    -------
    identified, remarks : list of Said
    """
    told, remarks = [], []
    looks = pulls[(pulls["marks_at_large"] > 0) & (pulls["caught"] > 0)]["recaptured"].dropna()
    if len(looks) >= FEWEST_LOOKS and looks.sum() > 0:
        told.append(Said(Identified.OVERDISPERSION, {"catches": len(looks)}))
    penned = int(marked["penned"].sum())
    if penned:
        told.append(Said(Identified.PENS, {"fish": penned}))
    kinds = marked.drop_duplicates(["batch", "mark"])
    batches = len(kinds)
    # Of a batch with two kinds of mark nobody can say which kind a recapture was.
    pure = kinds.drop_duplicates("batch", keep=False)
    if batches > 1:
        of_batch = recaptures[recaptures["batch"].isin(pure["batch"])]["count"].sum()
        if of_batch == pulls["recaptured"].sum(skipna=False):
            told.append(Said(Identified.BATCHES, {"batches": batches}))
        else:
            several = batches if len(pure) == batches else None
            remarks.append(Said(Remark.BATCHES_MIXED, {"batches": several}))
    double = pure.loc[pure["mark"] == "both", "batch"]
    if len(double):
        # The one batch has all recaptures, named or not.
        mine = recaptures["batch"].isin(double) | ((recaptures["batch"] == "") & (batches == 1))
        tag_told = recaptures["tag_read"].notna() | (recaptures["tag_id"] != "")
        looked_at = recaptures[mine & tag_told & recaptures["clip_seen"].notna()]
        fish = int(looked_at["count"].sum())
        if fish:
            told.append(Said(Identified.SHEDDING, {"fish": fish}))
        else:
            remarks.append(Said(Remark.NO_MARKS_COMPARED))
    return told, remarks


def told_by_antennas(
    records: Records, found: Heard | None = None
) -> dict[tuple[str, str], dict[str, int]]:
    """Count the tags that antennas may tell of, by lake and season.

    Parameters
    ----------
    found : Heard, optional
        As for `tag_histories`.

    Returns
    -------
    dict of (str, str) to dict of str to int
        ``tags``, ``heard`` at all, and ``nights`` that count.
    """
    rows = tag_histories(records, found)
    if rows.empty:
        return {}
    rows["heard"] = rows["tags"].where(rows["nights_heard"] > 0, 0)
    by_season = rows.groupby("season_index").agg(
        tags=("tags", "sum"), heard=("heard", "sum"), nights=("nights_listened", "max")
    )
    table = lake_seasons(records)
    told = {}
    for one in rows_of(by_season):
        place = table.iloc[int(one.Index)]
        counts = {"tags": int(one.tags), "heard": int(one.heard), "nights": int(one.nights)}
        told[str(place["lake"]), str(place["season"])] = counts
    return told
