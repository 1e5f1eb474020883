"""Rules on runs of another gear than the nets."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pandas as pd

from fishdown.records.codes import Odd, Wrong
from fishdown.records.tables import rows_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    from fishdown.records.draft import Draft
    from fishdown.records.problems import Problem


def survey_counts(draft: Draft) -> Iterator[Problem]:
    """Find runs with more marked fish than fish looked at, or more of these than were caught."""
    for run in rows_of(draft.frames["surveys"]):
        looked_at = run.caught if pd.isna(run.examined) else run.examined
        if looked_at > run.caught:
            yield draft.problem(Wrong.EXAMINED_ABOVE_CATCH, "surveys", run, "examined", more=[])
        elif run.marked > looked_at:
            said = {"looked_at": looked_at}
            yield draft.problem(Wrong.MARKED_ABOVE_LOOKED_AT, "surveys", run, "marked", **said)


def surveys_without_netting(draft: Draft) -> Iterator[Problem]:
    """Find runs in seasons without a pull."""
    pulls = draft.frames["pulls"]
    if not draft.whole("pulls"):
        return
    netted = set(zip(pulls["lake"], pulls["season"], strict=True))
    for run in rows_of(draft.frames["surveys"]):
        if pd.notna(run.date) and run.lake and (run.lake, run.season) not in netted:
            yield draft.problem(Odd.SURVEY_WITHOUT_NETTING, "surveys", run, "date")
