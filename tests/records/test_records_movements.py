"""Fish that came or went other than by the nets: rules, and the ledger of marks."""

from __future__ import annotations

import pytest
from expected import at

from fishdown.records import read_records
from fishdown.records.codes import Odd, Wrong

HEADER = "date,lake,movement,fish,share,marked,standard_error,other_lake\n"


def found(problems, campaign, *rows):
    return problems(campaign(movements=HEADER + "".join(f"{row}\n" for row in rows)))


@pytest.mark.parametrize(
    ("row", "code", "column"),
    [
        ("2025-06-04,Sedge Lake,angled,,,,,", Wrong.MOVEMENT_WITHOUT_NUMBER, "fish"),
        ("2025-06-04,Sedge Lake,winterkill,5,0.1,,,", Wrong.MOVEMENT_IN_TWO_WAYS, "share"),
        ("2025-06-20,Sedge Lake,angled,,0.1,,,", Wrong.SHARE_OF_NO_WINTER, "share"),
        ("2025-06-04,Sedge Lake,winterkill,,0.1,,,", Wrong.SHARE_WITHIN_SEASON, "share"),
        ("2025-06-04,Sedge Lake,stocked,10,,2,,", Wrong.MARKED_FISH_CAME, "marked"),
        ("2025-06-04,Sedge Lake,angled,10,,11,,", Wrong.MARKED_ABOVE_MOVED, "marked"),
        (
            "2025-06-04,Sedge Lake,angled,10,,,,Heron Pond",
            Wrong.OTHER_LAKE_OF_NO_MOVE,
            "other_lake",
        ),
        ("2025-06-04,Sedge Lake,flown,10,,,,", Wrong.UNKNOWN_MOVEMENT, "movement"),
    ],
)
def test_rules(campaign, problems, row, code, column):
    errors = [one for one in found(problems, campaign, row) if one.severity == "error"]
    assert errors == [at(code, "movements.csv", 2, column)]


def test_one_move_from_both_sides(campaign, problems):
    rows = (
        "2025-06-04,Sedge Lake,moved_out,5,,,,Heron Pond",
        "2025-06-04,Heron Pond,moved_in,5,,,,Sedge Lake",
        "2025-06-05,Heron Pond,moved_in,5,,,,Sedge Lake",
    )
    errors = [one for one in found(problems, campaign, *rows) if one.severity == "error"]
    assert errors == [at(Wrong.MOVED_TWICE, "movements.csv", 3, "other_lake", other=2)]


def test_outside_the_netting_on_record_they_change_no_estimate(campaign, problems):
    rows = (
        "2025-05-20,Sedge Lake,stocked,5,,,,",
        "2025-06-20,Sedge Lake,angled,5,,1,,",
        # Marks that are gone before the first pull are not at large.
        "2025-05-20,Sedge Lake,found_dead,3,,3,,",
    )
    assert found(problems, campaign, *rows) == [
        at(Odd.MOVED_BEFORE_NETTING, "movements.csv", 2, "date"),
        at(Odd.MOVED_AFTER_NETTING, "movements.csv", 3, "date"),
    ]


def test_marked_fish_that_went_are_not_at_large(campaign, problems):
    # 48 alive; two catches take 6 + 2; 38 leave; 3 marked fish in the last catch are too many.
    (error,) = found(problems, campaign, "2025-06-04,Sedge Lake,seined,60,,38,,")
    assert error == at(Wrong.RECAPTURED_ABOVE_MARKS, "pulls.csv", 4, "recaptured", at_large=2)


def test_the_ledger_follows_them_from_the_day_after(campaign):
    rows = "2025-06-02,Sedge Lake,seined,60,,10,,\n2025-06-10,Sedge Lake,angled,20,,,,\n"
    records = read_records(campaign(movements=HEADER + rows))
    sedge = records.pulls[records.pulls["lake"] == "Sedge Lake"]
    assert sedge["marks_at_large"].tolist() == [48, 42, 48 - 8 - 10]
    assert records.movements["season"].tolist() == ["2025", "2025"]
    # Nobody told how many of the 20 were marked: the share of those looked at is taken.
    share = (6 + 2 + 10 + 3) / (120 + 80 + 60 + 60)
    assert records.movements["marks_removed"].tolist() == [10, pytest.approx(20 * share)]


def test_fish_that_went_to_another_lake_of_the_campaign_come_there(campaign):
    row = "2025-06-04,Sedge Lake,moved_out,5,,1,,Heron Pond\n"
    movements = read_records(campaign(movements=HEADER + row)).movements
    assert movements["lake"].tolist() == ["Sedge Lake", "Heron Pond"]
    assert movements["movement"].tolist() == ["moved_out", "moved_in"]
    assert movements["marks_removed"].tolist() == [1, 0]
