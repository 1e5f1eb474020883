"""Rules on batches and their marks, broken once each, and the line that says so."""

from __future__ import annotations

HEADER = "date,lake,net,batch,tag_id,clip_seen,tag_read\n"
NO_COLUMN = ("pulls.csv", ",recaptured,", ",xyzzy,")


def errors(found):
    return [line for line in found if not line.startswith("warning")]


def sighting(batch, tag_id="", clip="", tag="", place="Sedge Lake,N1"):
    return f"2025-06-02,{place},{batch},{tag_id},{clip},{tag}\n"


def test_marks_that_were_not_or_could_not_be_seen(campaign, lines):
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
    assert errors(lines(folder)) == [
        'recaptures.csv, row 3, clip_seen = "no": neither clip nor tag was seen, so the '
        "fish cannot be recognised as marked; correct clip_seen or tag_read, or leave the "
        "fish out",
        'recaptures.csv, row 4, clip_seen = "yes": batch S2 carries tags only; correct the batch '
        "or what was seen",
        'recaptures.csv, row 6, tag_read = "yes": batch H1 carries fin clips only; correct the '
        "batch or what was seen",
    ]
