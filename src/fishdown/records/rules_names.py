"""Rules on names: lakes, batches and pulls that a row speaks of must be there."""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING, Any

from fishdown.records.matching import pulls_meant
from fishdown.records.problems import counted, nearest
from fishdown.records.tables import REQUIRED_TABLES, TABLES

if TYPE_CHECKING:
    from collections.abc import Iterator

    import pandas as pd

    from fishdown.records.draft import Draft
    from fishdown.records.problems import Problem


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
    for name in TABLES:
        rows: dict[str, list[int]] = defaultdict(list)
        for lake, row in _filled(draft.frames[name], "lake"):
            if lake not in known:
                rows[lake].append(row)
        for lake, places in rows.items():
            more = f", here and in {counted(len(places) - 1, 'more row')}"
            like = nearest(lake, known)
            file = draft.source.files["lakes"]
            wrong = "unknown lake" + (more if len(places) > 1 else "")
            mend = f'did you mean "{like}"?' if like else f"add it to {file}, or correct the name"
            yield draft.problem(name, places[0], "lake", wrong, mend)


def unknown_batches(draft: Draft) -> Iterator[Problem]:
    """Find recaptures of a batch that was never marked."""
    if not (draft.given("marked") and draft.whole("marked")):
        return
    known = {batch for batch, _ in _filled(draft.frames["marked"], "batch")}
    for batch, row in _filled(draft.frames["recaptures"], "batch"):
        if batch not in known:
            like = nearest(batch, known)
            file = draft.source.files["marked"]
            mend = f'did you mean "{like}"?' if like else f"add it to {file}, or correct the name"
            yield draft.problem("recaptures", row, "batch", "unknown batch of marked fish", mend)


def recaptures_without_pull(draft: Draft) -> Iterator[Problem]:
    """Find recaptures that belong to no pull, or to one of several."""
    if not draft.whole("pulls"):
        return
    for row, found in pulls_meant(draft.frames["recaptures"], draft.frames["pulls"]):
        if len(found) > 1:
            wrong = f"{len(found)} pulls of this net on this day"
            mend = "say in the column order which of them it is"
            yield draft.problem("recaptures", row.row, "net", wrong, mend)
        elif not found and not _maybe_there(draft, row):
            yield draft.problem("recaptures", row.row, *_no_pull(draft, row))


def rows_without_pull(draft: Draft) -> Iterator[Problem]:
    """Find measured fish and bycatch of a net that was not pulled that day, once a pull."""
    if not draft.whole("pulls"):
        return
    for name in ("measured", "bycatch"):
        of_pull: dict[tuple[Any, ...], list[Any]] = defaultdict(list)
        for row, found in pulls_meant(draft.frames[name], draft.frames["pulls"]):
            if not found and not _maybe_there(draft, row):
                of_pull[row.date, row.lake, row.net].append(row)
        for first, *more in of_pull.values():
            column, wrong, mend = _no_pull(draft, first)
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


def _maybe_there(draft: Draft, wanted: Any) -> bool:
    """Tell whether the pull may be there but for a slip that is reported anyway."""
    pulls = draft.frames["pulls"]
    known = known_lakes(draft)
    if known is not None and wanted.lake not in known:
        return True
    no_lake = pulls["lake"] == ""
    if known is not None:
        no_lake |= ~pulls["lake"].isin(known)
    no_day, no_net = pulls["date"].isna(), pulls["net"] == ""
    alike = (
        (no_day | (pulls["date"] == wanted.date))
        & (no_lake | (pulls["lake"] == wanted.lake))
        & (no_net | (pulls["net"] == wanted.net))
    )
    return bool((alike & (no_day | no_lake | no_net)).any())


def _no_pull(draft: Draft, wanted: Any) -> tuple[str, str, str]:
    """Say which of date, net and order has no pull, and what there is instead."""
    pulls = draft.frames["pulls"]
    file = draft.source.files["pulls"]
    that_day = pulls[(pulls["lake"] == wanted.lake) & (pulls["date"] == wanted.date)]
    if that_day.empty:
        wrong = f"{file} has no pull in {wanted.lake} on this day"
        return "date", wrong, "add the pull, or correct the date"
    nets = ", ".join(dict.fromkeys(that_day["net"]))
    if wanted.net in set(that_day["net"]):
        wrong = f"{file} has pulls of this net on this day, none with this order"
        return "order", wrong, "correct the order, or leave it out if there is one pull"
    wrong = f"{file} has no pull of this net in {wanted.lake} on {wanted.date:%Y-%m-%d}"
    return "net", wrong, f"nets pulled that day: {nets}"
