"""Rules on batches and their marks, broken once each, and the line that says so."""

from __future__ import annotations

from expected import at

from fishdown.records.codes import Wrong

HEADER = "date,lake,net,batch,tag_id,clip_seen,tag_read\n"
NO_COLUMN = ("pulls.csv", ",recaptured,", ",xyzzy,")


def errors(found):
    return [problem for problem in found if problem.severity == "error"]


def sighting(batch, tag_id="", clip="", tag="", place="Sedge Lake,N1"):
    return f"2025-06-02,{place},{batch},{tag_id},{clip},{tag}\n"


def test_marks_that_were_not_or_could_not_be_seen(campaign, problems):
    more = "2025-04-22,Sedge Lake,S2,pit_tag,10,\n2025-04-23,Heron Pond,H1"
    rows = [
        sighting("S1", clip="yes", tag="no"),
        sighting("S1", clip="no", tag="no"),
        sighting("S2", clip="yes"),
        sighting("S2", tag_id="00A1"),
        "2025-06-03,Heron Pond,P1,H1,,yes,yes\n",
    ]
    folder = campaign(
        NO_COLUMN,
        ("marked.csv", "2025-04-23,Heron Pond,H1", more),
        recaptures=HEADER + "".join(rows),
    )
    assert errors(problems(folder)) == [
        at(Wrong.NO_MARK_SEEN, "recaptures.csv", 3, "clip_seen"),
        at(Wrong.MARK_NOT_OF_BATCH, "recaptures.csv", 4, "clip_seen", batch="S2", carries="tags"),
        at(
            Wrong.MARK_NOT_OF_BATCH,
            "recaptures.csv",
            6,
            "tag_read",
            batch="H1",
            carries="fin clips",
        ),
    ]
