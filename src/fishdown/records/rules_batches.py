"""Rules on batches: a recaptured fish is known by a mark, and by one that its batch carries."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pandas as pd

from fishdown.records.codes import Wrong
from fishdown.records.tables import rows_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    from fishdown.records.draft import Draft
    from fishdown.records.problems import Problem

_CARRIES = {"fin_clip": "fin clips", "pit_tag": "tags"}


def marks_seen_at_odds(draft: Draft) -> Iterator[Problem]:
    """Find recaptures without any mark, or with one that their batch never had."""
    marks: dict[str, set[str]] = {}
    for row in rows_of(draft.frames["marked"]):
        if row.batch and row.mark:
            marks.setdefault(row.batch, set()).add(row.mark)
    for row in rows_of(draft.frames["recaptures"]):
        clip, tag = (False if pd.isna(seen) else seen for seen in (row.clip_seen, row.tag_read))
        if not clip and not tag and pd.notna(row.clip_seen) and pd.notna(row.tag_read):
            yield draft.problem(Wrong.NO_MARK_SEEN, "recaptures", row, "clip_seen")
        only = marks.get(row.batch, set())
        for mark, column, seen in (("fin_clip", "tag_read", tag), ("pit_tag", "clip_seen", clip)):
            if seen and only == {mark}:
                at, carries = ("recaptures", row, column), _CARRIES[mark]
                yield draft.problem(Wrong.MARK_NOT_OF_BATCH, *at, carries=carries)
