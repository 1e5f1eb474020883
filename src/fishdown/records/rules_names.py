"""Rules on names: lakes, batches and pulls that a row refers to must be there."""

from __future__ import annotations

from collections import defaultdict
from itertools import islice, product
from typing import TYPE_CHECKING, Any

import pandas as pd

from fishdown.records.codes import Odd, Wrong
from fishdown.records.matching import pulls_meant
from fishdown.records.problems import Suggestions
from fishdown.records.tables import ALL, REQUIRED_TABLES, TABLES, rows_of

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
        if name == "recaptures":
            yield draft.problem(Odd.NO_RECAPTURES, name)
        elif name in REQUIRED_TABLES:
            yield draft.problem(Wrong.NO_ROWS, name, noun=name.removesuffix("s"))
        else:
            yield draft.problem(Odd.NO_ROWS, name)


def lakes_given_twice(draft: Draft) -> Iterator[Problem]:
    """Find lakes with more than one row."""
    first: dict[str, int] = {}
    for lake, row in _filled(draft.frames["lakes"], "lake"):
        if lake in first:
            yield draft.problem(Wrong.LAKE_TWICE, "lakes", row, "lake", first=first[lake])
        first.setdefault(lake, row)


def unknown_lakes(draft: Draft) -> Iterator[Problem]:
    """Find lakes that the table of lakes does not have, once a name and table."""
    known = known_lakes(draft)
    if known is None:
        return
    suggestions = Suggestions(known)
    for name in (name for name, columns in TABLES.items() if "lake" in columns):
        rows: dict[str, list[int]] = defaultdict(list)
        frame = draft.frames[name]
        if frame.empty:
            continue
        # A limit may be on all lakes together.
        right = known | {ALL} if name == "bycatch_limits" else known
        for lake, row in _filled(frame[~frame["lake"].isin(right)], "lake"):
            rows[lake].append(row)
        for lake, places in rows.items():
            at, more, like = (name, places[0], "lake"), len(places) - 1, suggestions.of(lake)
            yield draft.problem(Wrong.UNKNOWN_LAKE, *at, more=more, like=like)


def unknown_batches(draft: Draft) -> Iterator[Problem]:
    """Find recaptures of a batch that was never marked."""
    if not (draft.given("marked") and draft.whole("marked")):
        return
    known = {batch for batch, _ in _filled(draft.frames["marked"], "batch")}
    suggestions = Suggestions(sorted(known))
    for batch, row in _filled(draft.frames["recaptures"], "batch"):
        if batch not in known:
            like = suggestions.of(batch)
            yield draft.problem(Wrong.UNKNOWN_BATCH, "recaptures", row, "batch", like=like)


def recaptures_without_pull(draft: Draft) -> Iterator[Problem]:
    """Find recaptures that belong to no pull, or to one of several."""
    if not draft.whole("pulls"):
        return
    there = _PullsThere(draft)
    for row, found in pulls_meant(draft.frames["recaptures"], draft.frames["pulls"]):
        if len(found) > 1:
            yield draft.problem(Wrong.SEVERAL_PULLS, "recaptures", row, "net", pulls=len(found))
        elif not found and not there.maybe(row):
            yield there.missing(Wrong, "recaptures", row)


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
            yield there.missing(Odd, name, first, more=len(more))


def known_lakes(draft: Draft) -> set[str] | None:
    """Collect the lakes that rows may name.

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
        self._draft = draft
        self._known = known_lakes(draft)
        self._nets: dict[tuple[Any, str], dict[str, None]] = defaultdict(dict)
        # Date, lake and net of pulls that lack some of the three, which is reported anyway.
        self._incomplete: set[tuple[Any, ...]] = set()
        for pull in rows_of(draft.frames["pulls"]):
            day = None if pd.isna(pull.date) else pull.date
            known = pull.lake and (self._known is None or pull.lake in self._known)
            place = (day, pull.lake if known else None, pull.net or None)
            if None in place:
                self._incomplete.add(place)
            self._nets[pull.date, pull.lake][pull.net] = None

    def maybe(self, wanted: Any) -> bool:
        """Return whether the pull may be there but for an error that is reported anyway."""
        if self._known is not None and wanted.lake not in self._known:
            return True
        alike = product((wanted.date, None), (wanted.lake, None), (wanted.net, None))
        return any(place in self._incomplete for place in alike)

    def missing(
        self, codes: type[Wrong | Odd], table: str, wanted: Any, *, more: int = 0
    ) -> Problem:
        """Report that date, net or order has no pull, for a row and so many more alike."""
        nets = self._nets.get((wanted.date, wanted.lake), {})
        if not nets:
            code, column = codes.NO_PULL_IN_LAKE, "date"
        elif wanted.net in nets:
            code, column = codes.NO_PULL_OF_ORDER, "order"
        else:
            code, column = codes.NO_PULL_OF_NET, "net"
        shown, others = list(islice(nets, _MOST_NETS)), max(len(nets) - _MOST_NETS, 0)
        at = (table, wanted, column)
        return self._draft.problem(code, *at, more=more, nets=shown, others=others)
