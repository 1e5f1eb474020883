"""Fish looked at twice for marks: rules, and what a season has of them."""

from __future__ import annotations

import pytest
from expected import at

import fishdown
from fishdown.records.codes import Odd, Wrong

HEADER = "date,lake,examiner,found_first,found_second\n"
FILE = "second_looks.csv"


@pytest.mark.parametrize(
    ("rows", "code", "row", "column"),
    [
        (["2025-06-03,Heron Pond,,9,1"], Wrong.FOUND_FIRST_ABOVE_RECAPTURED, 2, "found_first"),
        # 6 and 2 in two catches of the day; each of two examiners alone would be few enough.
        (
            ["2025-06-02,Sedge Lake,A,5,0", "2025-06-02,Sedge Lake,B,4,2"],
            Wrong.FOUND_FIRST_ABOVE_RECAPTURED, 3, "found_first",
        ),
        (["2025-06-03,Heron Pond,,,1"], Wrong.EMPTY_CELL, 2, "found_first"),
        (["2025-06-03,Heron Pond,,3,-1"], Wrong.NEGATIVE_COUNT, 2, "found_second"),
        (["2025-06-03,Heron Pnd,,3,1"], Wrong.UNKNOWN_LAKE, 2, "lake"),
    ],
)  # fmt: skip
def test_rules(campaign, problems, rows, code, row, column):
    text = HEADER + "\n".join(rows) + "\n"
    errors = [one for one in problems(campaign(second_looks=text)) if one.severity == "error"]
    assert errors == [at(code, FILE, row, column)]


def test_all_problems_at_once(campaign, problems):
    rows = ("2025-06-03,Heron Pond,,9,1", "2025-06-03,Heron Pond,,x,1", "2025-06-02,Nowhere,,1,1")
    found = problems(campaign(second_looks=HEADER + "\n".join(rows) + "\n"))
    assert {(one.row, one.column) for one in found} == {
        (2, "found_first"), (3, "found_first"), (4, "lake")
    }  # fmt: skip


def test_a_day_without_pull(campaign, problems):
    text = f"{HEADER}2025-06-04,Heron Pond,,3,1\n"
    assert problems(campaign(second_looks=text)) == [
        at(Odd.SECOND_LOOK_WITHOUT_PULL, FILE, 2, "date")
    ]


def test_what_nobody_wrote_down_cannot_be_exceeded(campaign, problems):
    text = f"{HEADER}2025-06-03,Heron Pond,,9,1\n"
    empty = ("pulls.csv", "Heron Pond,P1,40,8,,20", "Heron Pond,P1,40,,,20")
    found = problems(campaign(empty, second_looks=text))
    assert not [one for one in found if one.severity == "error"]


def test_the_sentence(campaign, problems):
    text = f"{HEADER}2025-06-03,Heron Pond,,9,1\n"
    (found,) = problems(campaign(second_looks=text))
    assert "9 marked fish found at the first look, and 8 in the catches of Heron Pond" in str(found)


def test_seasons_have_their_sums(campaign):
    rows = (
        "2025-06-02,Sedge Lake,A,5,1",
        "2025-06-10,Sedge Lake,B,2,1",
        "2025-06-03,Heron Pond,,4,0",
    )
    seasons = fishdown.read(campaign(second_looks=HEADER + "\n".join(rows) + "\n")).seasons
    assert seasons["found_first"].values.tolist() == [7, 4]
    assert seasons["found_second"].values.tolist() == [2, 0]
    assert seasons["found_first"].attrs["units"] == "count"
