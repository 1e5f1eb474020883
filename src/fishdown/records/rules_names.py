"""Rules on names: lakes, batches and pulls that a row refers to must be there."""

from __future__ import annotations

from collections import defaultdict
from itertools import islice, product
from typing import TYPE_CHECKING, Any

import pandas as pd

from fishdown.records.matching import pulls_meant
from fishdown.records.problems import Suggestions, counted
from fishdown.records.tables import REQUIRED_TABLES, TABLES, rows_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    from fishdown.records.draft import Draft
    from fishdown.records.problems import Problem

_MOST_NETS = 20


def tables_without_rows(draft: Draft) -> Iterator[Problem]:
    """Find tables that have a header only."""
    for name, text in draft.source.texts.items():
        if text.rows or text.incomplete:
            continue
        if name in REQUIRED_TABLES:
            what = "one row a lake" if name == "lakes" else "one row a pull"
            yield draft.problem(name, None, None, "no rows under the header", f"write {what}")
        elif name == "recaptures":
            wrong = "no rows under the header, so that no catch holds a marked fish"
            mend = "write the recaptures, or delete the table if no catch was examined for marks"
            yield draft.problem(name, None, None, wrong, mend, "warning")
        else:
            mend = "write the rows, or delete the table"
            yield draft.problem(name, None, None, "no rows under the header", mend, "warning")


def lakes_given_twice(draft: Draft) -> Iterator[Problem]:
    """Find lakes with more than one row."""
    first: dict[str, int] = {}
    for lake, row in _filled(draft.frames["lakes"], "lake"):
        if lake in first:
            wrong = f"the lake has a row already (row {first[lake]})"
            yield draft.problem("lakes", row, "lake", wrong, "keep one of the two rows")
        first.setdefault(lake, row)


def unknown_lakes(draft: Draft) -> Iterator[Problem]:
    """Find lakes that the table of lakes does not have, once a name and table."""
    known = known_lakes(draft)
    if known is None:
        return
    suggestions = Suggestions(known)
    for name in TABLES:
        rows: dict[str, list[int]] = defaultdict(list)
        for lake, row in _filled(draft.frames[name], "lake"):
            if lake not in known:
                rows[lake].append(row)
        for lake, places in rows.items():
            more = f", here and in {counted(len(places) - 1, 'more row')}"
            like = suggestions.of(lake)
            file = draft.source.files["lakes"]
            wrong = "unknown lake" + (more if len(places) > 1 else "")
            mend = f'did you mean "{like}"?' if like else f"add it to {file}, or correct the name"
            yield draft.problem(name, places[0], "lake", wrong, mend)


def unknown_batches(draft: Draft) -> Iterator[Problem]:
    """Find recaptures of a batch that was never marked."""
    if not (draft.given("marked") and draft.whole("marked")):
        return
    known = {batch for batch, _ in _filled(draft.frames["marked"], "batch")}
    suggestions = Suggestions(sorted(known))
    for batch, row in _filled(draft.frames["recaptures"], "batch"):
        if batch not in known:
            like = suggestions.of(batch)
            file = draft.source.files["marked"]
            mend = f'did you mean "{like}"?' if like else f"add it to {file}, or correct the name"
            yield draft.problem("recaptures", row, "batch", "unknown batch of marked fish", mend)


def recaptures_without_pull(draft: Draft) -> Iterator[Problem]:
    """Find recaptures that belong to no pull, or to one of several."""
    if not draft.whole("pulls"):
        return
    there = _PullsThere(draft)
    for row, found in pulls_meant(draft.frames["recaptures"], draft.frames["pulls"]):
        if len(found) > 1:
            wrong = f"{len(found)} pulls of this net on this day"
            mend = "say in the column order which of them it is"
            yield draft.problem("recaptures", row.row, "net", wrong, mend)
        elif not found and not there.maybe(row):
            yield draft.problem("recaptures", row.row, *there.missing(row))


def rows_without_pull(draft: Draft) -> Iterator[Problem]:
    """Find measured fish and bycatch of a net that was not pulled that day, once a pull."""
    if not draft.whole("pulls"):
        return
    there = _PullsThere(draft)
    for name in ("measured", "bycatch"):
        of_pull: dict[tuple[Any, ...], list[Any]] = defaultdict(list)
        for row, found in pulls_meant(draft.frames[name], draft.frames["pulls"]):
            if not found and not there.maybe(row):
                of_pull[row.date, row.lake, row.net].append(row)
        for first, *more in of_pull.values():
            column, wrong, mend = there.missing(first)
            if more:
                wrong += f", here and in {counted(len(more), 'more row')}"
            yield draft.problem(name, first.row, column, wrong, mend, "warning")


def known_lakes(draft: Draft) -> set[str] | None:
    """Collect the lakes that rows may name.

    Parameters
    ----------
    draft : Draft
        The records as read.

    Returns
    -------
    set of str or None
        None if the table of lakes is not whole, so that any name may be right.
    """
    lakes = {lake for lake, _ in _filled(draft.frames["lakes"], "lake")}
    return lakes if draft.whole("lakes") and lakes else None


def _filled(frame: pd.DataFrame, column: str) -> Iterator[tuple[str, int]]:
    for value, row in zip(frame[column], frame["row"].tolist(), strict=True):
        if value:
            yield value, row


class _PullsThere:
    """The pulls that there are, to look up what a row without one may have meant."""

    def __init__(self, draft: Draft) -> None:
        self._file = draft.source.files["pulls"]
        self._known = known_lakes(draft)
        self._nets: dict[tuple[Any, str], dict[str, None]] = defaultdict(dict)
        # Date, lake and net of pulls that lack some of the three, which is reported anyway.
        self._slips: set[tuple[Any, ...]] = set()
        for pull in rows_of(draft.frames["pulls"]):
            day = None if pd.isna(pull.date) else pull.date
            known = pull.lake and (self._known is None or pull.lake in self._known)
            place = (day, pull.lake if known else None, pull.net or None)
            if None in place:
                self._slips.add(place)
            self._nets[pull.date, pull.lake][pull.net] = None

    def maybe(self, wanted: Any) -> bool:
        """Tell whether the pull may be there but for a slip that is reported anyway."""
        if self._known is not None and wanted.lake not in self._known:
            return True
        alike = product((wanted.date, None), (wanted.lake, None), (wanted.net, None))
        return any(place in self._slips for place in alike)

    def missing(self, wanted: Any) -> tuple[str, str, str]:
        """Say which of date, net and order has no pull, and what there is instead."""
        nets = self._nets.get((wanted.date, wanted.lake))
        if nets is None:
            wrong = f"{self._file} has no pull in {wanted.lake} on this day"
            return "date", wrong, "add the pull, or correct the date"
        if wanted.net in nets:
            wrong = f"{self._file} has pulls of this net on this day, none with this order"
            return "order", wrong, "correct the order, or leave it out if there is one pull"
        wrong = f"{self._file} has no pull of this net in {wanted.lake} on {wanted.date:%Y-%m-%d}"
        shown = ", ".join(islice(nets, _MOST_NETS))
        more = f" and {len(nets) - _MOST_NETS:,} more" if len(nets) > _MOST_NETS else ""
        return "net", wrong, f"nets pulled that day: {shown}{more}"
