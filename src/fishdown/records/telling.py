"""Whether the pulls of a season are informative: by marks, by depletion, or by neither."""

from __future__ import annotations

from enum import StrEnum
from typing import TYPE_CHECKING

from fishdown.sentences import Said

if TYPE_CHECKING:
    import pandas as pd

_MARKED = "<{marked:,} marked fish|marked fish of earlier years>"


class Uninformative(StrEnum):
    """Why marks or catches of a season are uninformative, with the sentences."""

    NO_MARKS = "no marks"
    NO_PULL_WITH_MARKS = f"no pull while the {_MARKED} were at large"
    NO_CATCH_EXAMINED = f"no catch was examined for the {_MARKED}"
    NO_FISH_EXAMINED = f"no fish in the catches that were examined for the {_MARKED}"
    TOO_FEW_PULLS = "<{fished:?}one pull|no pulls><{void:?} besides void lifts>: no depletion"
    NO_REMOVAL = "no fish removed <{removed:?}before the last of|in> {pulls} pulls: no depletion"


def why_no_marks(pulls: pd.DataFrame, marked: int) -> Said | None:
    """Say why the marks of a season are uninformative; None where they are informative.

    Parameters
    ----------
    pulls : pandas.DataFrame
        Of one season, in time order: examined, recaptured, marks_at_large.
    marked : int
        Fish marked in the season and released alive.
    """
    at_large = pulls[pulls["marks_at_large"] > 0]
    examined = at_large[at_large["recaptured"].notna()]
    if not marked and at_large.empty:
        return Said(Uninformative.NO_MARKS)
    if at_large.empty:
        return Said(Uninformative.NO_PULL_WITH_MARKS, {"marked": marked})
    if examined.empty:
        return Said(Uninformative.NO_CATCH_EXAMINED, {"marked": marked})
    if not examined["examined"].any():
        return Said(Uninformative.NO_FISH_EXAMINED, {"marked": marked})
    return None


def why_no_depletion(pulls: pd.DataFrame) -> Said | None:
    """Say why the catches of a season cannot show depletion; None where they can.

    Parameters
    ----------
    pulls : pandas.DataFrame
        Of one season, in time order: removed, spoiled.
    """
    fished = pulls[~pulls["spoiled"].astype(bool)]
    if len(fished) < 2:
        counts = {"fished": len(fished), "void": len(pulls) - len(fished)}
        return Said(Uninformative.TOO_FEW_PULLS, counts)
    removed_before = pulls["removed"].cumsum() - pulls["removed"]
    if not removed_before[fished.index].any():
        counts = {"removed": bool(pulls["removed"].any()), "pulls": len(pulls)}
        return Said(Uninformative.NO_REMOVAL, counts)
    return None
