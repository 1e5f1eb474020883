"""Rules on batches: a recaptured fish is known by a mark, and by one that its batch carries."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pandas as pd

from fishdown.records.tables import rows_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    from fishdown.records.draft import Draft
    from fishdown.records.problems import Problem

_CARRIES = {"fin_clip": "fin clips only", "pit_tag": "tags only"}


def marks_seen_at_odds(draft: Draft) -> Iterator[Problem]:
    """Find recaptures without any mark, or with one that their batch never had."""
    marks: dict[str, set[str]] = {}
    for row in rows_of(draft.frames["marked"]):
        if row.batch and row.mark:
            marks.setdefault(row.batch, set()).add(row.mark)
    for row in rows_of(draft.frames["recaptures"]):
        clip, tag = (False if pd.isna(seen) else seen for seen in (row.clip_seen, row.tag_read))
        if not clip and not tag and pd.notna(row.clip_seen) and pd.notna(row.tag_read):
            wrong = "neither clip nor tag was seen, so the fish cannot be recognised as marked"
            mend = "correct clip_seen or tag_read, or leave the fish out"
            yield draft.problem("recaptures", row.row, "clip_seen", wrong, mend)
        only = marks.get(row.batch, set())
        for mark, column, seen in (("fin_clip", "tag_read", tag), ("pit_tag", "clip_seen", clip)):
            if seen and only == {mark}:
                wrong = f"batch {row.batch} carries {_CARRIES[mark]}"
                mend = "correct the batch or what was seen"
                yield draft.problem("recaptures", row.row, column, wrong, mend)
