"""Runs of another gear: rules, and the marks that were at large."""

from __future__ import annotations

import pytest
from expected import at

from fishdown.records import read_records
from fishdown.records.codes import Odd, Wrong

HEADER = "date,lake,gear,marking_gear,caught,examined,marked,effort_h\n"


@pytest.mark.parametrize(
    ("row", "code", "column"),
    [
        ("2025-06-04,Sedge Lake,seine,no,20,21,,", Wrong.EXAMINED_ABOVE_CATCH, "examined"),
        ("2025-06-04,Sedge Lake,seine,no,20,10,11,", Wrong.MARKED_ABOVE_LOOKED_AT, "marked"),
        ("2025-06-04,Sedge Lake,seine,no,20,,21,", Wrong.MARKED_ABOVE_LOOKED_AT, "marked"),
        ("2025-06-04,Sedge Lake,seine,,20,,1,", Wrong.EMPTY_CELL, "marking_gear"),
        ("2025-06-04,Sedge Lake,seine,no,20,,1,0", Wrong.ZERO_OR_NEGATIVE, "effort_h"),
    ],
)
def test_rules(campaign, problems, row, code, column):
    errors = [
        one for one in problems(campaign(surveys=f"{HEADER}{row}\n")) if one.severity == "error"
    ]
    assert errors == [at(code, "surveys.csv", 2, column)]


def test_a_run_in_a_year_without_pulls(campaign, problems):
    row = "2023-06-04,Sedge Lake,seine,no,20,,1,"
    assert problems(campaign(surveys=f"{HEADER}{row}\n")) == [
        at(Odd.SURVEY_WITHOUT_NETTING, "surveys.csv", 2, "date", season="2023")
    ]


def test_marks_at_large_when_the_day_is_over(campaign):
    rows = (
        "2025-05-20,Sedge Lake,seine,no,31,,2,",
        "2025-06-02,Sedge Lake,seine,no,20,15,1,",
        "2025-07-20,Sedge Lake,seine,no,9,,,2.5",
    )
    surveys = read_records(campaign(surveys=HEADER + "\n".join(rows) + "\n")).surveys
    # 48 marked fish alive; 8 taken on June 2; 2 of 3 on June 10, when one fish was put back.
    assert surveys["marks_at_large"].tolist() == [48, 40, 38]
    assert surveys["examined"].tolist() == [31, 15, 0]
    assert surveys["season"].tolist() == ["2025", "2025", "2025"]
