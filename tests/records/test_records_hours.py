"""Hours that nets fished: what may stand in the column, and what is odd."""

from __future__ import annotations

import pytest
from expected import at

from fishdown.identifiability.seasons import what_is_identified
from fishdown.records import read_records
from fishdown.records.codes import Odd, Wrong

HEADER = "date,lake,net,caught,effort_h\n"
SEDGE = (
    "2025-06-02,Sedge Lake,N1,120,{}\n2025-06-02,Sedge Lake,N2,80,{}\n"
    "2025-06-03,Sedge Lake,N1,60,{}\n"
)
OTHERS = "2025-06-03,Heron Pond,P1,40,\n2025-06-12,Heron Pond,P1,25,\n"


@pytest.fixture
def with_hours(campaign):
    def write(*hours):
        pulls = HEADER + SEDGE.format(*hours) + OTHERS
        return campaign(pulls=pulls, marked=None, measured=None, bycatch=None, detections=None)

    return write


@pytest.mark.parametrize(
    ("cell", "code"),
    [
        ("-3", Wrong.ZERO_OR_NEGATIVE),
        ("0", Wrong.ZERO_OR_NEGATIVE),
        ("20000", Wrong.IMPLAUSIBLY_LARGE),
        ("18:00", Wrong.TIME_FOR_NUMBER),
        ("18:00-23:30", Wrong.TIME_FOR_NUMBER),
        ("05:30:00", Wrong.TIME_FOR_NUMBER),
        ("18h30", Wrong.TIME_FOR_NUMBER),
        ("overnight", Wrong.NOT_A_NUMBER),
    ],
)
def test_cells_that_are_no_hours(with_hours, problems, cell, code):
    # One that is wrong is not missing.
    assert problems(with_hours("6", cell, "8")) == [at(code, "pulls.csv", 3, "effort_h")]


def test_hours_of_some_pulls_only(with_hours, problems, lines):
    folder = with_hours("6", "", "8")
    assert problems(folder) == [
        at(Odd.HOURS_IN_PART, "pulls.csv", 3, "effort_h", lacking=1, lake="Sedge Lake")
    ]
    assert lines(folder) == [
        "warning: pulls.csv, row 3, effort_h: empty for 1 pull of Sedge Lake in 2025 (row 3) while "
        "others have hours: effort then counts pulls, not hours; fill in the hours that the net "
        "fished, or leave the column empty throughout"
    ]


@pytest.mark.parametrize(("hours", "most"), [("48", None), ("49", 48.0)])
def test_more_hours_than_there_were(with_hours, problems, hours, most):
    # From some time of June 2 to some time of June 3.
    expected = [at(Odd.HOURS_ABOVE_TIME, "pulls.csv", 4, "effort_h", most=most)] if most else []
    assert problems(with_hours("300", "8", hours)) == expected


def test_check_says_what_hours_there_are(with_hours):
    said = {one.lake: str(one) for one in what_is_identified(read_records(with_hours(6, 8, 24)))}
    assert "hours fished (6–24 h)" in said["Sedge Lake"]
    assert "hours" not in said["Heron Pond"]
