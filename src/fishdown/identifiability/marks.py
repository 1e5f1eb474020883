"""What can be estimated about the marks themselves from one season's recaptures."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fishdown.words import counted

if TYPE_CHECKING:
    import pandas as pd

# Fewer catches than this do not determine the overdispersion of recaptures (our judgement, no
# source).
FEWEST_LOOKS = 5


def told_of_marks(
    pulls: pd.DataFrame, marked: pd.DataFrame, recaptures: pd.DataFrame
) -> tuple[list[str], list[str]]:
    """List what can be estimated of overdispersion, batches and shedding, and what to remark.

    Parameters
    ----------
    pulls, marked, recaptures : pandas.DataFrame
        Clean tables of one lake and season with informative marks.

    Returns
    -------
    identified, remarks : list of str
    """
    told, remarks = [], []
    looks = pulls[(pulls["marks_at_large"] > 0) & (pulls["caught"] > 0)]["recaptured"].dropna()
    if len(looks) >= FEWEST_LOOKS and looks.sum() > 0:
        told.append(f"overdispersion of recaptures ({len(looks)} catches examined)")
    kinds = marked.drop_duplicates(["batch", "mark"])
    batches = len(kinds)
    # Of a batch with two kinds of mark nobody can say which kind a recapture was.
    pure = kinds.drop_duplicates("batch", keep=False)
    if batches > 1:
        of_batch = recaptures[recaptures["batch"].isin(pure["batch"])]["count"].sum()
        if of_batch == pulls["recaptured"].sum(skipna=False):
            told.append(f"batches ({batches} distinguished)")
        else:
            several = f"the {batches} batches" if len(pure) == batches else "the kinds of mark"
            remarks.append(f"recaptures do not distinguish {several}")
    double = pure.loc[pure["mark"] == "both", "batch"]
    if len(double):
        # The one batch has all recaptures, named or not.
        mine = recaptures["batch"].isin(double) | ((recaptures["batch"] == "") & (batches == 1))
        tag_told = recaptures["tag_read"].notna() | (recaptures["tag_id"] != "")
        looked_at = recaptures[mine & tag_told & recaptures["clip_seen"].notna()]
        fish = int(looked_at["count"].sum())
        if fish:
            words = counted(fish, "double-marked fish", "double-marked fish")
            told.append(f"shedding of clips and tags ({words})")
        else:
            remarks.append(
                "no double-marked fish was checked for both marks: shedding cannot be estimated"
            )
    return told, remarks
