"""Rules on marks: a marked fish must have been marked, be at large, and be in the catch."""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING, Any

import pandas as pd

from fishdown.labels import season_label
from fishdown.records.ledger import marked_before_pulls, marked_for_earlier_seasons
from fishdown.records.matching import batch_places, pulls_meant, recaptured_of_pulls
from fishdown.records.problems import counted, listed_rows
from fishdown.records.rules_names import known_lakes
from fishdown.records.tables import rows_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    from fishdown.records.draft import Draft
    from fishdown.records.matching import Recaptured
    from fishdown.records.problems import Problem


def died_above_released(draft: Draft) -> Iterator[Problem]:
    """Find batches of which more died than were released."""
    marked = draft.frames["marked"]
    for batch in rows_of(marked[marked["died"] > marked["released"]]):
        wrong = f"more fish died than the {batch.released:.0f} released"
        mend = "correct one of the two; released counts the fish that died later, too"
        yield draft.problem("marked", batch.row, "died", wrong, mend)


def recaptured_above_catch(draft: Draft) -> Iterator[Problem]:
    """Find catches with more marked fish than fish."""
    pulls, told = draft.frames["pulls"], _told(draft)
    recaptured = pulls["recaptured"] if told is None else told.all_marks
    for pull, count in zip(rows_of(pulls), recaptured, strict=True):
        if count > pull.caught:
            wrong = f"{count:.0f} marked fish in a catch of {pull.caught:.0f}"
            mend = "correct one of the two; caught counts marked fish too"
            yield _at_pull(draft, told, pull, wrong, mend)


def recaptured_in_two_places(draft: Draft) -> Iterator[Problem]:
    """Find recaptures given in two tables, and pulls where these disagree."""
    pulls, told = draft.frames["pulls"], _told(draft)
    if told is None or pulls["recaptured"].isna().all():
        return
    other = draft.source.files["recaptures"]
    wrong = f"recaptures are given here and in {other}, which is the one that counts"
    mend = "leave out the column recaptured"
    yield draft.problem("pulls", None, "recaptured", wrong, mend, "warning")
    unsure = _days_unsure(draft)
    if unsure is None:
        return
    for pull, count in zip(rows_of(pulls), told.all_marks, strict=True):
        differs = pd.notna(pull.recaptured) and pull.recaptured != count
        if differs and (pull.lake, pull.date) not in unsure:
            wrong = f"{other} has {counted(count, 'marked fish', 'marked fish')} for this pull"
            mend = "make the two agree, or leave this cell empty"
            yield draft.problem("pulls", pull.row, "recaptured", wrong, mend)


def recaptured_above_marks(draft: Draft) -> Iterator[Problem]:
    """Find catches with more marked fish than can have been at large in that lake."""
    told = _told(draft)
    recaptured = draft.frames["pulls"]["recaptured"] if told is None else told.own_marks
    marked_file = draft.source.files["marked"]
    gone_of_lake: dict[str, float] = defaultdict(float)
    for lake, season, group, here, earlier in _seasons_with_sure_marks(draft):
        seen = recaptured[group.index].fillna(0)
        # All marks of earlier seasons that were not taken out may have lasted.
        carried = earlier - gone_of_lake[lake]
        if here.empty and earlier == 0:
            yield from _never_marked(draft, told, group[seen > 0])
            continue
        gone = 0.0
        before = (carried + marked_before_pulls(group, here)).tolist()
        for pull, count, released in zip(rows_of(group), seen, before, strict=True):
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
                wrong = "marked fish in the catch before any was at large"
                mend = (
                    "correct the count or a date; fish marked on a day are at large from the "
                    f"next day on, unless {marked_file} has an order"
                )
            else:
                left = f"only {at_large:.0f}" if at_large else "none"
                of_earlier = f"{carried:.0f} left from earlier years, " if earlier else ""
                wrong = (
                    f"{count:.0f} marked fish in the catch, but {left} at large in {lake} "
                    f"({of_earlier}{released - carried:.0f} released alive for season {season}, "
                    f"{gone:.0f} taken out since)"
                )
                mend = f"correct the count, or add the marking to {marked_file}"
            yield _at_pull(draft, told, pull, wrong, mend)


def batch_above_marks(draft: Draft) -> Iterator[Problem]:
    """Find recaptures of more fish of a batch than had been released with it by then."""
    marked, recaptures = draft.frames["marked"], draft.frames["recaptures"]
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
        mend = "correct the batch, the count or the date"
        if released == 0:
            wrong = f"this batch was marked later, on {batch.index[0]:%Y-%m-%d}"
            yield draft.problem("recaptures", row.row, "batch", wrong, mend)
        elif row.count > released:
            wrong = f"only {released:.0f} fish of batch {row.batch} were released until then"
            yield draft.problem("recaptures", row.row, "count", wrong, mend)


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
        origin = " and ".join(sorted(places[batch]))
        wrong = f"marked in {origin}, recaptured in {lake} ({listed_rows(rows)})"
        mend = "nothing to do if that is so; the fish count as caught, not as recaptures"
        yield draft.problem("recaptures", rows[0], "batch", wrong, mend, "warning")


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
            for pull in rows_of(telling[telling["recaptured"].isna()])
            if not draft.says("pulls", pull.row, "recaptured")
        ]
        if rows and len(rows) == len(telling):
            fish = counted(before[-1], "marked fish", "marked fish")
            wrong = f"no catch of {name} was examined for its {fish}, so its marks are unused"
            mend = "fill the column recaptured (0 if the catch was examined and had none)"
            yield draft.problem("pulls", None, None, wrong, mend, "warning")
        elif rows:
            wrong = (
                f"empty for {counted(len(rows), 'catch', 'catches')} of {name} while marked fish "
                f"were at large ({listed_rows(rows)}): not examined, and assumed to hold the "
                "season's share of marked fish"
            )
            mend = "write 0 if the catch was examined and had none"
            yield draft.problem("pulls", rows[0], "recaptured", wrong, mend, "warning")


def _told(draft: Draft) -> Recaptured | None:
    """Sum recaptures.csv by pull; None if there is none."""
    if not draft.given("recaptures"):
        return None
    frames = draft.frames
    return recaptured_of_pulls(frames["pulls"], frames["recaptures"], frames["marked"])


def _at_pull(draft: Draft, told: Recaptured | None, pull: Any, wrong: str, mend: str) -> Problem:
    """Report the recaptures of a pull in the table that gives them."""
    if told is None:
        return draft.problem("pulls", pull.row, "recaptured", wrong, mend)
    return draft.problem("recaptures", told.first_row[pull.Index], "count", wrong, mend)


def _never_marked(
    draft: Draft, told: Recaptured | None, with_marks: pd.DataFrame
) -> Iterator[Problem]:
    """Report recaptures of a lake and season without marking, once."""
    for pull in rows_of(with_marks.head(1)):
        later = len(with_marks) - 1
        more = f" (and in {counted(later, 'later catch', 'later catches')})" if later else ""
        wrong = (
            f"marked fish in the catch{more}, but none was marked in {pull.lake} for season "
            f"{pull.season}"
        )
        mend = f"add the marking to {draft.source.files['marked']}, or correct the count"
        if (draft.frames["marked"]["lake"] == pull.lake).any():
            mend += "; fish marked later do not count here"
        yield _at_pull(draft, told, pull, wrong, mend)


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
