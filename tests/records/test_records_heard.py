"""Tags and what antennas heard: zones, drift, visits, and what is not of ours."""

from __future__ import annotations

import pandas as pd
import pytest
from expected import at

from fishdown.cli import main
from fishdown.records import read_records
from fishdown.records.clocks import without_drift
from fishdown.records.codes import Odd, Wrong
from fishdown.records.visits import heard, heard_lines

HEADER = "time,lake,net,tag_id"
TAGS = "lake,batch,tag_id\n" + "".join(f"Sedge Lake,S1,3D9.1BF0{n}\n" for n in range(6))


def reads(*rows, lake="Sedge Lake", net="N1"):
    return "\n".join([HEADER, *(f"{time},{lake},{net},{tag}" for time, tag in rows)]) + "\n"


def at_night(*minutes, tag="3D9.1BF00", day="2025-06-02"):
    """Write reads so many minutes after nine in the evening, six hours behind universal time."""
    start = pd.Timestamp(f"{day}T21:00")
    return [(f"{(start + pd.Timedelta(minutes=m)).isoformat()}-06:00", tag) for m in minutes]


def setting(text):
    return ("campaign.toml", "species", f"{text}\nspecies")


@pytest.mark.parametrize(
    ("zone", "stamp", "utc"),
    [
        ("America/Chicago", "2025-06-02T22:04:00", "2025-06-03T03:04:00Z"),
        ("America/Chicago", "2025-12-02T22:04:00", "2025-12-03T04:04:00Z"),
        ("-06:00", "2025-06-02T22:04:00", "2025-06-03T04:04:00Z"),
        ("UTC", "2025-06-02 22:04:00.250", "2025-06-02T22:04:00.250Z"),
        # An offset in the stamp is the nearer witness.
        ("America/Chicago", "2025-06-02T22:04:00+02:00", "2025-06-02T20:04:00Z"),
        # The first of the two hours when clocks go back.
        ("America/Chicago", "2025-11-02T01:30:00", "2025-11-02T06:30:00Z"),
    ],
)
def test_a_stamp_without_offset_is_of_the_zone_of_the_campaign(campaign, zone, stamp, utc):
    folder = campaign(setting(f'time_zone = "{zone}"'), detections=reads((stamp, "A1")))
    found = read_records(folder).detections
    assert found["time"].tolist() == [pd.Timestamp(utc)]
    written = pd.Timestamp(stamp.removesuffix("+02:00"))
    assert found["local"].tolist() == [written]


def test_an_hour_that_clocks_leap_over(campaign, problems):
    folder = campaign(
        setting('time_zone = "America/Chicago"'),
        detections=reads(("2025-03-09T02:30:00", "A1"), ("2025-03-09T03:30:00", "A1")),
    )
    assert problems(folder) == [at(Wrong.HOUR_LEAPT_OVER, "detections.csv", 2, "time")]


def test_an_hour_that_occurs_twice_is_told(campaign, problems):
    folder = campaign(
        setting('time_zone = "America/Chicago"'),
        detections=reads(("2025-11-02T01:30:00", "A1"), ("2025-11-02T01:31:00-05:00", "A1")),
    )
    expected = at(Odd.HOUR_TWICE, "detections.csv", 2, "time", reads=1, rows=[2])
    assert expected in problems(folder)


@pytest.mark.parametrize("zone", ["America/Chigaco", "+25:00", "here", "../UTC", "/etc/passwd"])
def test_a_zone_that_is_none_is_the_only_problem(campaign, problems, zone):
    """Times without an offset are not reported as well."""
    folder = campaign(
        setting(f'time_zone = "{zone}"'), detections=reads(("2025-06-02T22:04:00", "A1"))
    )
    assert problems(folder) == [at(Wrong.UNKNOWN_TIME_ZONE, "campaign.toml", 2, "time_zone")]


def test_a_column_without_zones_is_one_line(campaign, problems):
    stamps = [(f"2025-06-02T22:{minute:02}:00", "A1") for minute in range(50)]
    (found,) = problems(campaign(detections=reads(*stamps)))
    assert found == at(Wrong.NO_TIME_ZONE, "detections.csv", 2, "time", throughout=[*range(2, 52)])


def test_drift_is_on_the_line_between_two_checks():
    def times(*stamps):
        return pd.Series(pd.to_datetime(stamps, utc=True)).dt.as_unit("us")

    stamps = ["2025-06-01T00:00", "2025-06-03T00:00", "2025-06-05T12:00", "2025-06-20T00:00"]
    reads_of = pd.DataFrame({"time": times(*stamps), "lake": "L", "net": ["A", "A", "A", "A"]})
    reads_of = pd.concat([reads_of, reads_of.iloc[:1].assign(net="B")], ignore_index=True)
    reads_of["local"] = reads_of["time"].dt.tz_localize(None)
    checks = pd.DataFrame(
        {
            "time": times("2025-06-02T00:00", "2025-06-06T00:00", "2025-06-02T00:00"),
            "lake": "L",
            "net": ["A", "A", ""],
            "fast_s": [0.0, -40.0, 7.0],
        }
    )
    found = without_drift(reads_of, checks)
    # Slow by 0, 10, 35 and, after the last check, 40 seconds; B has the check of the whole lake.
    off = (found["time"] - reads_of["time"]).dt.total_seconds().tolist()
    assert off == [0.0, 10.0, 35.0, 40.0, -7.0]
    assert (found["local"] - reads_of["local"]).dt.total_seconds().tolist() == off


def test_visits_end_with_a_pause(campaign):
    at_once = at_night(0, 4, 14, 25, 26)
    found = heard(read_records(campaign(tags=TAGS, detections=reads(*at_once, *at_night(4)))))
    assert found.doubled == 1
    visits = found.visits
    # Ten minutes are no longer than ten minutes.
    assert visits["reads"].tolist() == [3, 2]
    assert visits["local_start"].dt.strftime("%H:%M").tolist() == ["21:00", "21:25"]
    assert visits["local_end"].dt.strftime("%H:%M").tolist() == ["21:14", "21:26"]
    assert visits["batch"].tolist() == ["S1", "S1"]


def test_a_visit_is_of_one_tag_at_one_antenna(campaign):
    table = reads(*at_night(0, 2), *at_night(1, tag="3d9 1bf01"))
    table += reads(*at_night(1), net="N2").removeprefix(HEADER + "\n")
    visits = heard(read_records(campaign(tags=TAGS, detections=table))).visits
    assert list(zip(visits["net"], visits["tag_id"], visits["reads"], strict=True)) == [
        ("N1", "3D9.1BF00", 2),
        ("N1", "3D9.1BF01", 1),
        ("N2", "3D9.1BF00", 1),
    ]


def test_the_night_goes_from_noon_to_noon(campaign):
    late, early = at_night(0), at_night(5 * 60)
    visits = heard(read_records(campaign(tags=TAGS, detections=reads(*late, *early)))).visits
    assert visits["night"].dt.strftime("%Y-%m-%d").tolist() == ["2025-06-02"] * 2


def test_what_is_not_of_ours_is_counted_and_kept_apart(campaign, capsys):
    table = reads(
        *at_night(0, 1), *at_night(2, 3, tag="900 1"), *at_night(4, tag="FFFF"),
        *at_night(5, tag="3D9.1BF05", day="2025-04-21"),
    )  # fmt: skip
    table += reads(*at_night(9), lake="Heron Pond", net="P1").removeprefix(HEADER + "\n")
    folder = campaign(tags=TAGS, detections=table)
    found = heard(read_records(folder))
    assert found.visits["tag_id"].tolist() == ["3D9.1BF00"]
    assert (found.foreign_tags, found.foreign_reads, found.ghosts) == (1, 2, 1)
    assert (found.strayed_tags, found.strayed_reads, found.before_release) == (1, 1, 1)
    assert main(["check", str(folder)]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert (
        "Antenna: 1 of 6 tags of ours heard in 1 visit on 2 nights by 2 antennas; 7 reads. Left "
        "out of that: 1 read of codes that came once (ghost reads); 1 tag not of ours (2 reads); "
        "1 tag of another lake of this campaign (1 read); 1 read before release."
    ) in said


def test_without_a_table_of_tags_codes_that_came_once_are_ghosts(campaign):
    table = reads(*at_night(0, 1), *at_night(2, tag="FFFF"))
    records = read_records(campaign(detections=table))
    found = heard(records)
    assert (found.told_apart, found.ghosts, len(found.visits)) == (False, 1, 1)
    assert "whose cannot be told without a table of tags" in heard_lines(records)[0]


def test_without_detections_nothing_is_said(campaign):
    records = read_records(campaign(detections=None, tags=TAGS))
    assert heard_lines(records) == []
    assert heard(records).visits.empty


def test_a_tag_that_never_leaves_is_told(campaign):
    table = reads(*at_night(*range(0, 25 * 60, 9)), *at_night(1, tag="3D9.1BF01"))
    folder = campaign(tags=TAGS, detections=table)
    records = read_records(folder)
    visits = heard(records).visits
    assert visits.loc[visits["in_place"], "tag_id"].tolist() == ["3D9.1BF00"]
    assert "1 tag lying beside an antenna" in heard_lines(records)[1]


@pytest.mark.parametrize(
    ("old", "new", "problem"),
    [
        ("S1,3D9.1BF05", "S1,3d91bf04", at(Wrong.TAG_TWICE, "tags.csv", 7, "tag_id", first=6)),
        ("S1,3D9.1BF05", "S9,3D9.1BF05", at(Wrong.BATCH_OF_OTHER_LAKE, "tags.csv", 7, "batch")),
        (
            "Sedge Lake,S1,3D9.1BF05",
            "Heron Pond,H1,3D9.1BF05",
            at(Wrong.TAG_OF_CLIPPED, "tags.csv", 7, "batch"),
        ),
        ("S1,3D9.1BF05", "S1,", at(Wrong.EMPTY_CELL, "tags.csv", 7, "tag_id")),
    ],
)
def test_a_wrong_row_of_tags_is_one_line(campaign, problems, old, new, problem):
    assert problems(campaign(tags=TAGS.replace(old, new))) == [problem]


def test_more_tags_than_fish_released_alive(campaign, problems):
    folder = campaign(("marked.csv", "both,50,2", "both,6,1"), tags=TAGS)
    found = [one for one in problems(folder) if one.file == "tags.csv"]
    expected = at(Wrong.MORE_TAGS_THAN_FISH, "tags.csv", 7, "tag_id", tags=6, alive=5)
    assert found == [expected]


def test_oddities_of_antennas_are_told_once(campaign, problems):
    table = reads(*at_night(0, 1), net="N-1")
    clocks = "time,lake,net,fast_s\n2025-06-02T20:00Z,Sedge Lake,N7,5\n"
    early = at_night(0, 1, day="2025-04-21")
    table += reads(*early).removeprefix(HEADER + "\n")
    folder = campaign(tags=TAGS, detections=table, clock_checks=clocks)
    assert problems(folder) == [
        at(Odd.ANTENNA_WITHOUT_PULL, "detections.csv", 2, "net", like="N1", more=1),
        at(Odd.HEARD_BEFORE_RELEASE, "detections.csv", 4, "time", reads=2, tags=1),
        at(Odd.CLOCK_OF_NO_ANTENNA, "clock_checks.csv", 2, "net"),
    ]


def test_drift_can_move_a_read_behind_the_release(campaign, problems):
    clocks = "time,lake,net,fast_s\n2025-04-21T23:30:00-06:00,Sedge Lake,N1,-3600\n"
    early = reads(*at_night(150, tag="3D9.1BF02", day="2025-04-21"))
    assert problems(campaign(tags=TAGS, detections=early, clock_checks=clocks)) == []


def test_a_clock_that_lost_its_date(campaign, problems):
    clocks = "time,lake,net,fast_s\n2025-06-02T20:00Z,Sedge Lake,N1,90000\n"
    assert problems(campaign(clock_checks=clocks)) == [
        at(Wrong.ABOVE, "clock_checks.csv", 2, "fast_s", most=86_400)
    ]
