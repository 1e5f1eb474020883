"""Rules on fish that were looked at twice for marks."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pandas as pd

from fishdown.records.codes import Odd, Wrong
from fishdown.records.rules_marks import recaptured_here
from fishdown.records.rules_names import known_lakes
from fishdown.records.tables import rows_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    from fishdown.records.draft import Draft
    from fishdown.records.problems import Problem


def looks_without_pull(draft: Draft) -> Iterator[Problem]:
    """Find second looks on a day without a pull in their lake."""
    if not draft.whole("pulls"):
        return
    pulls, known = draft.frames["pulls"], known_lakes(draft)
    pulled = set(zip(pulls["lake"], pulls["date"], strict=True))
    for look in rows_of(draft.frames["second_looks"]):
        # A lake that nobody knows has its own problem.
        here = look.lake if known is None else look.lake in known
        if pd.notna(look.date) and here and (look.lake, look.date) not in pulled:
            yield draft.problem(Odd.SECOND_LOOK_WITHOUT_PULL, "second_looks", look, "date")


def found_above_recaptured(draft: Draft) -> Iterator[Problem]:
    """Find days of which the first look found more marked fish than the catches have."""
    looks, pulls = draft.frames["second_looks"], draft.frames["pulls"]
    if looks.empty or not (draft.whole("pulls") and draft.whole("recaptures")):
        return
    by_day = (
        recaptured_here(draft).groupby([pulls["lake"], pulls["date"]]).agg(["sum", "count", "size"])
    )
    # A day may have a row for each examiner; the row that is too many is told.
    found = looks.groupby(["lake", "date"])["found_first"].cumsum()
    for look, so_far in zip(rows_of(looks), found, strict=True):
        day = (look.lake, look.date)
        if day not in by_day.index:
            continue
        recaptured, told, pulls_of_day = by_day.loc[day]
        # What nobody wrote down cannot be exceeded.
        if told == pulls_of_day and so_far > recaptured:
            said = {"found_first": so_far, "recaptured": recaptured}
            at = ("second_looks", look, "found_first")
            yield draft.problem(Wrong.FOUND_FIRST_ABOVE_RECAPTURED, *at, **said)
