"""Whether the pulls of a season are informative: by marks, by depletion, or by neither."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import pandas as pd


def why_no_marks(pulls: pd.DataFrame, marked: int) -> str:
    """Say why the marks of a season are uninformative; empty where they are informative.

    Parameters
    ----------
    pulls : pandas.DataFrame
        Of one season, in time order: caught, recaptured, marks_at_large.
    marked : int
        Fish marked in the season and released alive.
    """
    at_large = pulls[pulls["marks_at_large"] > 0]
    if not marked and at_large.empty:
        return "no marks"
    name = f"{marked:,} marked fish" if marked else "marked fish of earlier years"
    if at_large.empty:
        return f"no pull while the {name} were at large"
    examined = at_large[at_large["recaptured"].notna()]
    if examined.empty:
        return f"no catch was examined for the {name}"
    if not examined["caught"].any():
        return f"no fish in the catches that were examined for the {name}"
    return ""


def why_no_depletion(pulls: pd.DataFrame) -> str:
    """Say why the catches of a season cannot show depletion; empty where they can.

    Parameters
    ----------
    pulls : pandas.DataFrame
        Of one season, in time order: removed, spoiled.
    """
    fished = pulls[~pulls["spoiled"].astype(bool)]
    if len(fished) < 2:
        count = "one pull" if len(fished) else "no pulls"
        return f"{count}{' besides void lifts' if len(pulls) > len(fished) else ''}: no depletion"
    removed_before = pulls["removed"].cumsum() - pulls["removed"]
    if not removed_before[fished.index].any():
        when = "before the last of" if pulls["removed"].any() else "in"
        return f"no fish removed {when} {len(pulls)} pulls: no depletion"
    return ""
