"""A rule on the example rows of a new campaign: they are nobody's records."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fishdown.records.codes import Wrong
from fishdown.records.tables import REQUIRED_TABLES, TABLES

if TYPE_CHECKING:
    from collections.abc import Iterator

    from fishdown.records.draft import Draft
    from fishdown.records.problems import Problem

# What stands for the lake in the example rows of a new campaign.
EXAMPLE_LAKE = "EXAMPLE: replace this row"


def example_rows(draft: Draft) -> Iterator[Problem]:
    """Find the example rows of a new campaign, once a table."""
    for table, columns in TABLES.items():
        if "lake" not in columns:
            continue
        frame = draft.frames[table]
        rows = frame.loc[frame["lake"] == EXAMPLE_LAKE, "row"].tolist()
        if rows:
            said = {"rows": rows, "alone": len(rows) == len(frame) and table not in REQUIRED_TABLES}
            yield draft.problem(Wrong.EXAMPLE_ROW, table, rows[0], "lake", **said)
