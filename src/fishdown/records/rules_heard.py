"""Rules on tags and on what antennas heard."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fishdown.records.clocks import without_drift
from fishdown.records.codes import Odd, Wrong
from fishdown.records.problems import nearest
from fishdown.records.rules_names import known_lakes
from fishdown.records.tables import rows_of
from fishdown.records.visits import code_of, released_on

if TYPE_CHECKING:
    from collections.abc import Iterator

    import pandas as pd

    from fishdown.records.draft import Draft
    from fishdown.records.problems import Problem


def tags_given_twice(draft: Draft) -> Iterator[Problem]:
    """Find tags with more than one row, however they are written."""
    tags = draft.frames["tags"]
    named = tags[tags["tag_id"] != ""]
    code = code_of(named["tag_id"])
    for _, rows in named[code.duplicated(keep=False)].groupby(code, sort=False):
        first, again, *more = rows_of(rows)
        yield draft.problem(
            Wrong.TAG_TWICE, "tags", again, "tag_id", first=first.row, more=len(more) or None
        )


def tags_of_no_batch(draft: Draft) -> Iterator[Problem]:
    """Find batches of tags that were not marked in that lake, or that carry no tag; once each."""
    if not draft.whole("marked"):
        return
    marked, lakes = draft.frames["marked"], known_lakes(draft)
    marks: dict[tuple[str, str], set[str]] = {}
    seasons: dict[tuple[str, str], set[tuple[str, str]]] = {}
    for row in rows_of(marked):
        marks.setdefault((row.lake, row.batch), set()).add(row.mark)
        seasons.setdefault((row.lake, row.batch), set()).add((row.season, row.mark))
    for row in rows_of(draft.frames["tags"].drop_duplicates(["lake", "batch"])):
        key = (row.lake, row.batch)
        if not all(key) or (lakes is not None and row.lake not in lakes):
            continue
        if key not in marks:
            yield draft.problem(Wrong.BATCH_OF_OTHER_LAKE, "tags", row, "batch")
        elif marks[key] == {"fin_clip"}:
            yield draft.problem(Wrong.TAG_OF_CLIPPED, "tags", row, "batch")
        elif len(seasons[key]) > 1:
            yield draft.problem(Odd.TAGS_OF_MIXED_BATCH, "tags", row, "batch")


def more_tags_than_fish(draft: Draft) -> Iterator[Problem]:
    """Find batches with more tags than fish released alive."""
    marked, tags = draft.frames["marked"], draft.frames["tags"]
    if tags.empty:
        return
    tagged = marked[marked["mark"] != "fin_clip"]
    alive = tagged["released"] - tagged["died"].fillna(0)
    alive = alive.groupby([tagged["lake"], tagged["batch"]]).sum(min_count=1)
    for key, rows in tags.groupby(["lake", "batch"], sort=False):
        most = alive.get(key)
        # More deaths than fish have a problem of their own.
        if most is not None and len(rows) > most >= 0:
            row = next(rows_of(rows.iloc[int(most) :]))
            said = {"tags": len(rows), "alive": most}
            yield draft.problem(Wrong.MORE_TAGS_THAN_FISH, "tags", row, "tag_id", **said)


def antennas_without_pull(draft: Draft) -> Iterator[Problem]:
    """Find antennas in nets that were never pulled and are called like one that was, once each."""
    reads = draft.frames["detections"]
    if reads.empty or not draft.whole("pulls"):
        return
    pulls, lakes = draft.frames["pulls"], known_lakes(draft)
    nets = {str(lake): set(rows["net"]) for lake, rows in pulls.groupby("lake")}
    antenna = ["lake", "net"]
    counts = reads.groupby(antenna, sort=False)["row"].size()
    for row in rows_of(reads.drop_duplicates(antenna)):
        if not row.lake or not row.net or (lakes is not None and row.lake not in lakes):
            continue
        known = nets.get(row.lake, set())
        like = None if row.net in known else nearest(row.net, sorted(known))
        if like is not None:
            said = {"like": like, "more": int(counts[row.lake, row.net]) - 1 or None}
            yield draft.problem(Odd.ANTENNA_WITHOUT_PULL, "detections", row, "net", **said)


def heard_before_release(draft: Draft) -> Iterator[Problem]:
    """Find reads of our tags on days before their fish was released, once a campaign."""
    tags, marked = draft.frames["tags"], draft.frames["marked"]
    if tags.empty or marked.empty:
        return
    reads = _reads(draft)
    known = tags.merge(released_on(marked), on=["lake", "batch"])
    if known.empty or reads.empty:
        return
    known = known.assign(code=code_of(known["tag_id"])).drop_duplicates("code")
    day = code_of(reads["tag_id"]).map(known.set_index("code")["released"])
    early = reads[reads["local"].dt.normalize() < day]
    if len(early):
        rows = early["row"].tolist()
        said = {"reads": len(early), "tags": early["tag_id"].nunique(), "rows": rows}
        yield draft.problem(Odd.HEARD_BEFORE_RELEASE, "detections", rows[0], "time", **said)


def hours_that_occur_twice(draft: Draft) -> Iterator[Problem]:
    """Find times without an offset in an hour that occurs twice, once a campaign."""
    zone = draft.source.notation.zone
    reads = draft.frames["detections"]
    if zone is None or reads.empty:
        return
    # Clocks change on the quarter of an hour at the finest.
    quarter = reads["local"].dt.floor("15min")
    doubtful = {
        time
        for time in quarter.dropna().drop_duplicates().dt.to_pydatetime()
        if time.replace(tzinfo=zone, fold=0).utcoffset()
        != time.replace(tzinfo=zone, fold=1).utcoffset()
    }
    if not doubtful:
        return
    rows = [
        row
        for row in reads.loc[quarter.isin(list(doubtful)), "row"].tolist()
        if _without_offset(draft.says("detections", row, "time"))
    ]
    if rows:
        said = {"reads": len(rows), "rows": rows}
        yield draft.problem(Odd.HOUR_TWICE, "detections", rows[0], "time", **said)


def clocks_of_no_antenna(draft: Draft) -> Iterator[Problem]:
    """Find checks of the clock of an antenna that heard nothing."""
    if not draft.whole("detections"):
        return
    reads = draft.frames["detections"].drop_duplicates(["lake", "net"])
    heard = set(zip(reads["lake"], reads["net"], strict=True))
    heard |= {(lake, "") for lake, _ in heard}
    lakes = known_lakes(draft)
    for row in rows_of(draft.frames["clock_checks"]):
        there = lakes is None or row.lake in lakes
        if row.lake and there and (row.lake, row.net) not in heard:
            column = "net" if row.net else "lake"
            yield draft.problem(Odd.CLOCK_OF_NO_ANTENNA, "clock_checks", row, column)


def _reads(draft: Draft) -> pd.DataFrame:
    """Return the reads that lack nothing, with the drift of the clocks taken out."""
    reads = draft.frames["detections"]
    whole = reads["time"].notna() & (reads[["lake", "net", "tag_id"]] != "").all(axis=1)
    checks = draft.frames["clock_checks"]
    usable = checks["time"].notna() & checks["fast_s"].notna() & (checks["lake"] != "")
    return without_drift(reads[whole], checks[usable])


def _without_offset(text: str) -> bool:
    return not (text.endswith(("Z", "z")) or text[-6:-5] in {"+", "-"} or text[-5:-4] in {"+", "-"})
