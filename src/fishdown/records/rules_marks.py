"""Rules on marks: a marked fish must have been marked, be at large, and be in the catch."""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING, Any

import pandas as pd

from fishdown.labels import season_label
from fishdown.records.codes import Odd, Wrong
from fishdown.records.ledger import marked_before_pulls, marked_for_earlier_seasons
from fishdown.records.matching import batch_places, pulls_meant, recaptured_of_pulls
from fishdown.records.movements import marks_gone_before
from fishdown.records.rules_names import known_lakes
from fishdown.records.tables import PEN, rows_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    from fishdown.records.draft import Draft
    from fishdown.records.matching import Recaptured
    from fishdown.records.problems import Problem


def died_above_released(draft: Draft) -> Iterator[Problem]:
    """Find batches of which more died than were released."""
    marked = draft.frames["marked"]
    for batch in rows_of(marked[marked["died"] > marked["released"]]):
        yield draft.problem(Wrong.DIED_ABOVE_RELEASED, "marked", batch, "died")


def pen_counts(draft: Draft) -> Iterator[Problem]:
    """Find pens with more fish at the end than before, or of which the end is not told."""
    marked = draft.frames["marked"]
    for batch in rows_of(marked):
        counts = [getattr(batch, name) for name in PEN]
        for before, after, name in zip(counts, counts[1:], PEN[1:], strict=False):
            if after > before or (pd.notna(after) and pd.isna(before)):
                yield draft.problem(Wrong.PEN_ABOVE, "marked", batch, name)
            elif pd.notna(before) and pd.isna(after):
                yield draft.problem(Wrong.PEN_UNFINISHED, "marked", batch, name)


def recaptured_here(draft: Draft) -> pd.Series[float]:
    """Return the marked fish in each catch, whichever table gives them, of other lakes included."""
    told = _told(draft)
    return draft.frames["pulls"]["recaptured"] if told is None else told.all_marks


def recaptured_above_catch(draft: Draft) -> Iterator[Problem]:
    """Find catches with more marked fish than fish."""
    told = _told(draft)
    pulls, recaptured = draft.frames["pulls"], recaptured_here(draft)
    for pull, count in zip(rows_of(pulls), recaptured, strict=True):
        if count > pull.caught:
            yield _at_pull(draft, told, pull, Wrong.RECAPTURED_ABOVE_CATCH, recaptured=count)


def examined_counts(draft: Draft) -> Iterator[Problem]:
    """Find pulls whose fish examined for marks contradict the catch or the marked fish in it."""
    pulls, told = draft.frames["pulls"], _told(draft)
    recaptured = pulls["recaptured"] if told is None else told.all_marks
    for pull, count in zip(rows_of(pulls), recaptured, strict=True):
        if pull.examined > pull.caught:
            yield draft.problem(Wrong.EXAMINED_ABOVE_CATCH, "pulls", pull, "examined", more=[])
        elif count > pull.examined and count <= pull.caught:
            yield _at_pull(draft, told, pull, Wrong.RECAPTURED_ABOVE_EXAMINED, recaptured=count)
        elif pull.examined > 0 and not _outcome_told(draft, told, pull):
            yield draft.problem(Wrong.EXAMINED_WITHOUT_OUTCOME, "pulls", pull, "recaptured")


def _outcome_told(draft: Draft, told: Recaptured | None, pull: Any) -> bool:
    # Where no fish was marked, nobody looks.
    nothing_to_tell = draft.frames["marked"].empty
    return told is not None or nothing_to_tell or draft.says("pulls", pull.row, "recaptured") != ""


def recaptured_in_two_places(draft: Draft) -> Iterator[Problem]:
    """Find recaptures given in two tables, and pulls where these disagree."""
    pulls, told = draft.frames["pulls"], _told(draft)
    if told is None or pulls["recaptured"].isna().all():
        return
    yield draft.problem(Odd.RECAPTURES_IN_TWO_PLACES, "pulls", None, "recaptured")
    unsure = _days_unsure(draft)
    if unsure is None:
        return
    for pull, count in zip(rows_of(pulls), told.all_marks, strict=True):
        differs = pd.notna(pull.recaptured) and pull.recaptured != count
        if differs and (pull.lake, pull.date) not in unsure:
            at = ("pulls", pull, "recaptured")
            yield draft.problem(Wrong.RECAPTURES_DISAGREE, *at, recaptured=count)


def recaptured_above_marks(draft: Draft) -> Iterator[Problem]:
    """Find catches with more marked fish than can have been at large in that lake."""
    told = _told(draft)
    recaptured = draft.frames["pulls"]["recaptured"] if told is None else told.own_marks
    gone_of_lake: dict[str, float] = defaultdict(float)
    moved_of = {str(lake): rows for lake, rows in draft.frames["movements"].groupby("lake")}
    for lake, _, group, here, earlier in _seasons_with_sure_marks(draft):
        seen = recaptured[group.index].fillna(0)
        # All marks of earlier seasons that were not taken out may have lasted.
        carried = earlier - gone_of_lake[lake]
        if here.empty and earlier == 0:
            yield from _never_marked(draft, told, group[seen > 0])
            continue
        gone = 0.0
        before = carried + marked_before_pulls(group, here)
        if lake in moved_of:
            before = before - marks_gone_before(moved_of[lake], group["date"])
        for pull, count, released in zip(rows_of(group), seen, before.tolist(), strict=True):
            at_large = released - gone
            if count > pull.caught:
                continue  # a problem of its own, and no measure of the marks that are gone
            if count <= at_large:
                put_back = 0.0 if pd.isna(pull.released_again) else pull.released_again
                gone += max(count - put_back, 0.0)
                gone_of_lake[lake] += max(count - put_back, 0.0)
                continue
            # A wrong count says nothing of the marks left, so it is not taken off.
            if released == 0:
                yield _at_pull(draft, told, pull, Wrong.RECAPTURED_BEFORE_MARKING)
                continue
            said = {"recaptured": count, "at_large": at_large, "gone": gone, "earlier": earlier}
            said |= {"carried": carried, "alive": released - carried}
            yield _at_pull(draft, told, pull, Wrong.RECAPTURED_ABOVE_MARKS, **said)


def batch_above_marks(draft: Draft) -> Iterator[Problem]:
    """Find recaptures of more fish of a batch than had been released with it by then."""
    marked, recaptures = draft.frames["marked"], draft.frames["recaptures"]
    if recaptures.empty:
        return
    if not draft.whole("marked") or marked[["date", "released"]].isna().any(axis=None):
        return
    released_of = {
        name: batch.groupby("date")["released"].sum().cumsum()
        for name, batch in marked[marked["batch"] != ""].groupby("batch")
    }
    for row in rows_of(recaptures[recaptures["date"].notna()]):
        batch = released_of.get(row.batch)
        if batch is None:
            continue
        # On its very day a batch may be at large, if the order says so.
        days = batch.index.searchsorted(row.date, side="right")
        released = batch.iloc[days - 1] if days else 0.0
        at = ("recaptures", row)
        if released == 0:
            yield draft.problem(Wrong.BATCH_MARKED_LATER, *at, "batch", date=batch.index[0])
        elif row.count > released:
            yield draft.problem(Wrong.RECAPTURED_ABOVE_BATCH, *at, "count", released=released)


def marks_from_elsewhere(draft: Draft) -> Iterator[Problem]:
    """Find recaptures of batches that were marked in other lakes only."""
    if not draft.whole("marked"):
        return
    places = batch_places(draft.frames["marked"])
    foreign: dict[tuple[str, str], list[int]] = {}
    for row in rows_of(draft.frames["recaptures"]):
        if row.batch in places and row.lake not in places[row.batch]:
            foreign.setdefault((row.batch, row.lake), []).append(row.row)
    for (batch, lake), rows in foreign.items():
        at, origin = ("recaptures", rows[0], "batch"), " and ".join(sorted(places[batch]))
        yield draft.problem(Odd.MARKED_ELSEWHERE, *at, origin=origin, lake=lake, rows=rows)


def catches_not_examined(draft: Draft) -> Iterator[Problem]:
    """Find catches that were not examined while marks were at large, once a lake and season."""
    if draft.given("recaptures"):
        return
    for lake, season, group, here, earlier in _seasons_with_sure_marks(draft):
        before = earlier + marked_before_pulls(group, here)
        telling = group[(before > 0) & (group["caught"] > 0)]
        # A cell that is filled but wrong has its own problem.
        name = season_label(lake, season)
        rows = [
            pull.row
            for pull in rows_of(telling[telling["recaptured"].isna() & ~(telling["examined"] == 0)])
            if not draft.says("pulls", pull.row, "recaptured")
        ]
        none_examined = int((telling["examined"] == 0).sum())
        if rows and len(rows) + none_examined == len(telling):
            yield draft.problem(Odd.NO_CATCH_EXAMINED, "pulls", season=name, marks=before[-1])
        elif rows:
            at, catches = ("pulls", rows[0], "recaptured"), len(rows)
            yield draft.problem(
                Odd.CATCHES_NOT_EXAMINED, *at, season=name, catches=catches, rows=rows
            )


def _told(draft: Draft) -> Recaptured | None:
    """Sum recaptures.csv by pull; None if there is none."""
    if not draft.given("recaptures"):
        return None
    frames = draft.frames
    return recaptured_of_pulls(frames["pulls"], frames["recaptures"], frames["marked"])


def _at_pull(
    draft: Draft, told: Recaptured | None, pull: Any, code: Wrong, **values: object
) -> Problem:
    """Report the recaptures of a pull in the table that gives them."""
    if told is None:
        return draft.problem(code, "pulls", pull, "recaptured", **values)
    at = pull._replace(row=told.first_row[pull.Index])
    return draft.problem(code, "recaptures", at, "count", **values)


def _never_marked(
    draft: Draft, told: Recaptured | None, with_marks: pd.DataFrame
) -> Iterator[Problem]:
    """Report recaptures of a lake and season without marking, once."""
    for pull in rows_of(with_marks.head(1)):
        later, elsewhen = len(with_marks) - 1, pull.lake in set(draft.frames["marked"]["lake"])
        said = {"later": later, "marked_later": elsewhen}
        yield _at_pull(draft, told, pull, Wrong.NEVER_MARKED, **said)


def _seasons_with_sure_marks(
    draft: Draft,
) -> Iterator[tuple[str, str, pd.DataFrame, pd.DataFrame, float]]:
    """Yield lake, season, pulls in time order, marked fish and how many were marked earlier.

    Only where no mark may be lacking.
    """
    marked, pulls = draft.frames["marked"], draft.frames["pulls"]
    known = known_lakes(draft) or set(pulls["lake"]) - {""}
    if not draft.whole("marked") or not marked["lake"].isin(known).all():
        return
    unsure = set(marked.loc[marked["date"].isna() | marked["released"].isna(), "lake"])
    marked = marked.assign(died=marked["died"].where(marked["died"] <= marked["released"], 0))
    dated = pulls[pulls["date"].notna() & pulls["lake"].isin(known - unsure)]
    in_time = dated.sort_values(["lake", "date", "turn", "row"])
    marked_of = {str(lake): rows for lake, rows in marked.groupby("lake")}
    for (lake, season), group in in_time.groupby(["lake", "season"], sort=False):
        of_lake = marked_of.get(str(lake), marked.iloc[:0])
        here = of_lake[of_lake["season"] == season]
        earlier = marked_for_earlier_seasons(group, of_lake)
        yield str(lake), str(season), group, here, earlier


def _days_unsure(draft: Draft) -> set[tuple[str, Any]] | None:
    """Lakes and days of recaptures whose pull is not clear; None if that may be any day."""
    recaptures = draft.frames["recaptures"]
    if not draft.whole("recaptures"):
        return None
    meant = pulls_meant(recaptures, draft.frames["pulls"])
    sure = [row.Index for row, found in meant if len(found) == 1]
    unsure = recaptures[~recaptures.index.isin(sure)]
    if unsure["date"].isna().any() or (unsure["lake"] == "").any():
        return None
    return set(zip(unsure["lake"], unsure["date"], strict=True))
