"""Every way in which a cell or column can be wrong, and the line that says so."""

from __future__ import annotations

import pytest

from fishdown.records import Problem, read_records
from fishdown.records.codes import Odd, Wrong
from fishdown.records.problems import RecordsError, nearest
from fishdown.words import counted, listed_rows

FISH = "write the number of fish, 0 or more"
DATE = "write the date as year-month-day, such as 2025-06-14"
TEMPERATURE = "write the water temperature in °C, −1 to 40, or leave the cell empty"


@pytest.mark.parametrize(
    ("file", "old", "new", "line"),
    [
        ("pulls", "N2,80", "N2,many", f'row 3, caught = "many": not a number; {FISH}'),
        ("pulls", "N2,80", "N2,80.5", f'row 3, caught = "80.5": not a whole number; {FISH}'),
        ("pulls", "N2,80", "N2,-80", f'row 3, caught = "-80": negative count; {FISH}'),
        ("pulls", "N2,80", "N2,NaN", f'row 3, caught = "NaN": not a finite number; {FISH}'),
        ("pulls", "N2,80", "N2,inf", f'row 3, caught = "inf": not a finite number; {FISH}'),
        ("pulls", "N2,80", "N2,1e999", f'row 3, caught = "1e999": not a finite number; {FISH}'),
        ("pulls", "N2,80", "N2,", f"row 3, caught: empty cell; {FISH}"),
        ("pulls", "N2,80", "N2,8_0", f'row 3, caught = "8_0": not a number; {FISH}'),
        (
            "pulls",
            "N2,80",
            "N2,99999999999999999999",
            'row 3, caught = "99999999999999999999": more fish than a lake can hold; ' + FISH,
        ),
        (
            "pulls",
            "N2,80",
            'N2,"1,200"',
            'row 3, caught = "1,200": not a number because of the comma; write 1200, or 1.200 if '
            "the comma marks the decimals",
        ),
        (
            "pulls",
            "2025-06-12",
            "12.06.2025",
            f'row 6, date = "12.06.2025": not a date of the form year-month-day; {DATE}; or '
            'set dates = "day.month.year" in the settings, if all dates are written so',
        ),
        (
            "pulls",
            "2025-06-12",
            "2025-06-31",
            f'row 6, date = "2025-06-31": no such day in the calendar; {DATE}',
        ),
        (
            "pulls",
            "2025-06-12",
            "0225-06-12",
            f'row 6, date = "0225-06-12": not in the years 1950 to 2100; {DATE}',
        ),
        ("pulls", "22.5", "41", f'row 6, water_temp_c = "41": above 40; {TEMPERATURE}'),
        ("pulls", "22.5", "-1.5", f'row 6, water_temp_c = "-1.5": below −1; {TEMPERATURE}'),
        (
            "pulls",
            "22.5",
            '"22,5"',
            'row 6, water_temp_c = "22,5": not a number because of the comma; write the decimals '
            'after a point: 22.5; or set decimal = "comma" in the settings, if all decimals are '
            "written so",
        ),
        (
            "lakes",
            ",42,",
            ",0,",
            'row 2, area_ha = "0": zero or negative; write the area of the lake, 0.001 to '
            "40,000,000 ha",
        ),
        (
            "lakes",
            ",42,",
            ",-42,",
            'row 2, area_ha = "-42": zero or negative; write the area of the lake, 0.001 to '
            "40,000,000 ha",
        ),
        (
            "lakes",
            "42,no",
            "42,perhaps",
            'row 2, connected = "perhaps": neither yes nor no; write yes or no',
        ),
        (
            "marked",
            "fin_clip",
            "clip",
            'row 3, mark = "clip": unknown kind of mark; write fin_clip, pit_tag or both',
        ),
        (
            "measured",
            "1.8",
            "-1.8",
            'row 6, weight_kg = "-1.8": zero or negative; write the weight of the fish, '
            "0.000001 to 100,000 kg, or leave the cell empty",
        ),
        (
            "detections",
            "04:10:30Z",
            "04:10:30",
            'row 3, time = "2025-06-03T04:10:30": time without a time zone; add the zone: '
            "2025-06-03T04:10:30Z for universal time, 2025-06-03T04:10:30-06:00 for six hours "
            "behind it; or give the setting time_zone",
        ),
        (
            "detections",
            "2025-06-03T04:10:30Z",
            "yesterday",
            'row 3, time = "yesterday": not a date and time; write the time with its zone, such '
            "as 2025-06-14T22:05:00Z",
        ),
    ],
)
def test_a_wrong_cell_is_one_line(campaign, lines, file, old, new, line):
    assert lines(campaign((f"{file}.csv", old, new))) == [f"{file}.csv, {line}"]


def test_missing_column(campaign, lines):
    found = lines(campaign(("lakes.csv", "area_ha", "area")))
    assert found == [
        "lakes.csv, row 1, area_ha: missing column; add it: the area of the lake, 0.001 to "
        "40,000,000 ha; if it has another heading, name it in the settings: headings.lakes.area_ha "
        '= "…"',
        "warning: lakes.csv, row 1, area: unknown column, which is not read; did you mean "
        '"area_ha"? Rename it, or keep it by the setting headings.lakes.area_ha = "area"',
    ]


def test_unknown_column_without_a_name_like_it(campaign, lines):
    (line,) = lines(campaign(("lakes.csv", "connected", "xyzzy")))
    assert line == (
        "warning: lakes.csv, row 1, xyzzy: unknown column, which is not read; known columns are "
        "lake, area_ha, threshold_kg_per_ha, connected, young_eaten"
    )


def test_column_twice(campaign, lines):
    lakes = "lake,area_ha,Area_ha\nSedge Lake,42,43\nHeron Pond,6.5,7\n"
    assert lines(campaign(lakes=lakes)) == [
        "lakes.csv, row 1, area_ha: 2 columns have this name; keep one of them"
    ]


def test_column_without_a_name(campaign, lines):
    lakes = "lake,area_ha,,\nSedge Lake,42,,\nHeron Pond,6.5,,deep\n"
    # The name of the last column is missing, so its cell is one too many.
    assert "row 3: the row has 4 cells, the header has 2" in lines(campaign(lakes=lakes))[0]
    lakes = "lake,,area_ha\nSedge Lake,,42\nHeron Pond,deep,6.5\n"
    assert lines(campaign(name="other", lakes=lakes)) == [
        "warning: lakes.csv, row 1: the 2nd column has no name and is not read (first filled in "
        "row 3); name it, or delete it"
    ]


def test_column_names_are_trimmed_and_in_any_case(campaign, lines):
    assert lines(campaign(("lakes.csv", "lake,area_ha", " LAKE , Area_HA "))) == []


def test_twelve_errors_are_reported_at_once_and_nothing_else(campaign):
    folder = campaign(
        ("campaign.toml", 'title = "Two lakes of the Wend"', "cost_per_pull = -1"),
        ("lakes.csv", "6.5", "0"),
        ("marked.csv", "both", "dye"),
        ("marked.csv", "30,", "30,31"),
        ("pulls.csv", "N1,120", "N1,-120"),
        ("pulls.csv", "Sedge Lake,N2", "Sege Lake,N2"),
        ("pulls.csv", "2025-06-10", "10 June"),
        ("pulls.csv", "22.5", "225"),
        ("measured.csv", "2.95", "2950"),
        ("bycatch.csv", "4,1", "4,5"),
        ("detections.csv", "00A2", ""),
    )
    with pytest.raises(RecordsError) as caught:
        read_records(folder)
    found = caught.value.problems
    places = [(problem.file, problem.row, problem.column) for problem in found]
    assert places == [
        ("campaign.toml", None, "title"),
        ("campaign.toml", 1, "cost_per_pull"),
        ("lakes.csv", 3, "area_ha"),
        ("marked.csv", 2, "mark"),
        ("marked.csv", 3, "died"),
        ("pulls.csv", 2, "caught"),
        ("pulls.csv", 3, "lake"),
        ("pulls.csv", 4, "date"),
        ("pulls.csv", 6, "water_temp_c"),
        ("measured.csv", 8, "weight_kg"),
        ("bycatch.csv", 2, "dead"),
        ("detections.csv", 3, "tag_id"),
    ]
    assert str(caught.value).startswith("12 problems in the records:\n  campaign.toml, title: ")


def test_errors_come_before_warnings(campaign):
    folder = campaign(("lakes.csv", "connected", "conected"), ("pulls.csv", "22.5", "99"))
    with pytest.raises(RecordsError) as caught:
        read_records(folder)
    assert [problem.severity for problem in caught.value.problems] == ["error", "warning"]


def test_problems_sort_with_and_without_rows():
    late = Problem(Wrong.EMPTY_FILE, "b.csv")
    first = Problem(Wrong.LAKE_TWICE, "a.csv", 7, "caught", "-3", {"first": 2})
    whole = Problem(Wrong.EMPTY_FILE, "a.csv", None, "caught")
    warning = Problem(Odd.NOTES, "a.csv", 1)
    assert sorted([warning, late, first, whole]) == [whole, first, late, warning]
    assert late > first


def test_a_problem_stays_on_one_line():
    text = str(Problem(Wrong.NEITHER_YES_NOR_NO, "pulls.csv", 7, "net", "N1\n" * 90))
    assert "\n" not in text
    assert len(text) < 140


def test_words_for_counts_rows_and_names():
    assert counted(1, "pull") == "1 pull"
    assert counted(2310, "fish", "fish") == "2,310 fish"
    assert listed_rows([7]) == "row 7"
    assert listed_rows([7, 9, 12]) == "rows 7, 9 and 12"
    assert listed_rows(list(range(2, 11))) == "rows 2, 3, 4, 5, 6 and 4 more"
    assert nearest("sege lake", ["Heron Pond", "Sedge Lake"]) == "Sedge Lake"
    assert nearest("qqq", ["Heron Pond", "Sedge Lake"]) is None


def test_a_slip_through_a_whole_column_is_one_line(campaign, lines):
    rows = "".join(f"6/{day}/2025,Sedge Lake,N1,{day}\n" for day in range(1, 21))
    pulls = f"date,lake,net,caught\n{rows}"
    assert lines(campaign(pulls=pulls, marked=None, measured=None, bycatch=None)) == [
        'pulls.csv, column date, 20 rows (2–21), such as "6/1/2025": not a date of the form '
        f'year-month-day; {DATE}; or set dates = "month/day/year" in the settings, if all dates '
        "are written so"
    ]


def test_many_slips_in_a_column_that_is_otherwise_right_are_one_line_each(campaign, lines):
    rows = "".join(f"2025-06-{day},Sedge Lake,N1,{day}\n" for day in range(10, 30))
    slips = "".join(f"6/{day}/2025,Sedge Lake,N1,{day}\n" for day in range(1, 8))
    pulls = f"date,lake,net,caught\n{rows}{slips}"
    assert len(lines(campaign(pulls=pulls, marked=None, measured=None, bycatch=None))) == 7


def test_names_hold_no_control_characters(campaign, lines):
    found = lines(campaign(lakes="lake,area_ha\nSedge\x1b Lake,30\nHeron  Pond,8\n"))
    assert any("an invisible character; type the name anew" in line for line in found)
