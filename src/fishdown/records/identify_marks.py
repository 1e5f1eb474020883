"""What the recaptures of one lake and season tell of the marks themselves."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fishdown.records.problems import counted

if TYPE_CHECKING:
    import pandas as pd

# Fewer catches than this say nothing of how recaptures scatter (our judgement, no source).
FEWEST_LOOKS = 5


def told_of_marks(
    pulls: pd.DataFrame, marked: pd.DataFrame, recaptures: pd.DataFrame
) -> tuple[list[str], list[str]]:
    """List what can be told of scatter, batches and shedding, and what to remark.

    Parameters
    ----------
    pulls, marked, recaptures : pandas.DataFrame
        Clean tables of one lake and season in which marks speak.

    Returns
    -------
    identified, remarks : list of str
    """
    told, remarks = [], []
    looks = pulls[(pulls["marks_at_large"] > 0) & (pulls["caught"] > 0)]["recaptured"].dropna()
    if len(looks) >= FEWEST_LOOKS and looks.sum() > 0:
        told.append(f"scatter of recaptures ({len(looks)} catches looked through)")
    kinds = marked.drop_duplicates(["batch", "mark"])
    batches = len(kinds)
    # Of a batch with two kinds of mark nobody can say which kind a recapture was.
    pure = kinds.drop_duplicates("batch", keep=False)
    if batches > 1:
        of_batch = recaptures[recaptures["batch"].isin(pure["batch"])]["count"].sum()
        if of_batch == pulls["recaptured"].sum(skipna=False):
            told.append(f"batches ({batches} told apart)")
        else:
            several = f"the {batches} batches" if len(pure) == batches else "the kinds of mark"
            remarks.append(f"recaptures do not tell {several} apart")
    double = pure.loc[pure["mark"] == "both", "batch"]
    if len(double):
        # The one batch has all recaptures, named or not.
        mine = recaptures["batch"].isin(double) | ((recaptures["batch"] == "") & (batches == 1))
        tag_told = recaptures["tag_read"].notna() | (recaptures["tag_id"] != "")
        looked_at = recaptures[mine & tag_told & recaptures["clip_seen"].notna()]
        fish = int(looked_at["count"].sum())
        if fish:
            words = counted(fish, "fish of two marks", "fish of two marks")
            told.append(f"shed clips and tags ({words})")
        else:
            remarks.append("no fish of two marks was looked at for both: shedding cannot be told")
    return told, remarks
