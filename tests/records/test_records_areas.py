"""The area of a lake by date: its rules, and what `check` says of it."""

from __future__ import annotations

from datetime import datetime

import pytest
from expected import at

from fishdown.identifiability.seasons import what_is_identified
from fishdown.records import read_records
from fishdown.records.codes import Odd, Wrong

HEADER = "date,lake,area_ha\n"


@pytest.mark.parametrize(
    ("row", "code", "column"),
    [
        ("2025-06-04,Sedge Lake,0", Wrong.ZERO_OR_NEGATIVE, "area_ha"),
        ("2025-06-04,Sedge Lake,-3", Wrong.ZERO_OR_NEGATIVE, "area_ha"),
        ("2025-06-04,Sedge Lake,", Wrong.EMPTY_CELL, "area_ha"),
        ("2025-06-04,Sedge,40", Wrong.UNKNOWN_LAKE, "lake"),
        (",Sedge Lake,40", Wrong.EMPTY_CELL, "date"),
    ],
)
def test_cells_that_are_no_area(campaign, problems, row, code, column):
    found = problems(campaign(areas=f"{HEADER}{row}\n"))
    assert [one for one in found if one.severity == "error"] == [at(code, "areas.csv", 2, column)]


def test_two_areas_on_a_day(campaign, problems):
    rows = "2025-06-04,Sedge Lake,40\n2025-06-04,Heron Pond,6\n2025-06-04,Sedge Lake,40\n"
    assert problems(campaign(areas=HEADER + rows)) == [
        at(Wrong.AREA_TWICE, "areas.csv", 4, "date", first=2)
    ]


def test_an_area_that_leaps(campaign, problems, lines):
    # Entered in any order; half of it is no leap yet.
    rows = "2025-06-09,Sedge Lake,96.4\n2025-06-04,Sedge Lake,40\n2025-06-11,Sedge Lake,48.2\n"
    folder = campaign(areas=HEADER + rows)
    assert problems(folder) == [
        at(
            Odd.AREA_LEAPS,
            "areas.csv",
            2,
            "area_ha",
            before=40.0,
            times=pytest.approx(2.41),
            day=datetime(2025, 6, 4),
        )
    ]
    assert lines(folder) == [
        'warning: areas.csv, row 2, area_ha = "96.4": 2.4 times the area of 40 ha on 2025-06-04, '
        "the date before it; check for a wrong digit, or acres for hectares; leave it if it is "
        "correct"
    ]


@pytest.mark.parametrize(("area", "larger"), [(103.8, True), (17.0, False)])
def test_areas_that_contradict_the_table_of_lakes(campaign, problems, area, larger):
    # Acres for hectares, in either table.
    rows = f"2025-06-04,Sedge Lake,{area}\n2025-06-09,Sedge Lake,{area}\n"
    assert problems(campaign(areas=HEADER + rows)) == [
        at(Odd.AREA_UNLIKE_USUAL, "areas.csv", 2, "area_ha", usual=42.0, larger=larger)
    ]


def test_an_area_of_another_year(campaign, problems):
    rows = "2025-06-04,Sedge Lake,40\n2015-06-09,Sedge Lake,44\n2024-06-09,Sedge Lake,44\n"
    assert problems(campaign(areas=HEADER + rows)) == [
        at(
            Odd.AREA_YEARS_AWAY,
            "areas.csv",
            3,
            "date",
            rows=[3],
            years=pytest.approx(9.98, abs=0.01),
        )
    ]


def test_in_acres_and_in_a_workbook(campaign, as_workbook, tmp_path):
    folder = campaign(areas="date,lake,area_acres\n2025-06-04,Sedge Lake,100\n")
    for path in (folder, as_workbook(folder, tmp_path / "book.xlsx")):
        areas = read_records(path).areas
        assert areas["area_ha"].tolist() == [pytest.approx(40.468564224)]


def test_check_says_what_follows_the_area(campaign):
    rows = "2025-06-02,Sedge Lake,40\n2025-06-10,Sedge Lake,30\n"
    findings = what_is_identified(read_records(campaign(areas=HEADER + rows)))
    said = {finding.lake: str(finding) for finding in findings}
    assert (
        "lake area of 40.0 ha at the first pull and 30.0 ha at the last (30.0 to 40.0 ha at all "
        "pulls): catchability and biomass density follow it"
    ) in said["Sedge Lake"]
    assert "lake area" not in said["Heron Pond"]
