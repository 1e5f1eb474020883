"""What people write around a table, and how they write in it: each is read, or named in a line."""

from __future__ import annotations

from datetime import date, datetime

import openpyxl
import pytest
from expected import at

from fishdown.records import read_records
from fishdown.records.codes import Odd, Wrong
from fishdown.records.notation import DATE_STYLES, Notation, example_of, styles_of
from fishdown.records.synonyms import column_meant
from fishdown.records.tables import TABLES
from fishdown.words import spans_of_rows

PULLS = """date,lake,net,caught,recaptured
2025-06-02,Sedge Lake,N1,120,6
2025-06-02,Sedge Lake,N2,80,2
2025-06-10,Sedge Lake,N1,60,3
"""
PONDS = """2025-06-03,Heron Pond,P1,40,8
2025-06-12,Heron Pond,P1,25,5
"""


@pytest.fixture
def pulls_read(campaign):
    """Read a table of pulls; give its catches and the problems."""

    def read(pulls, *changes, **name):
        records = read_records(campaign(*changes, **name, pulls=pulls, measured=None, bycatch=None))
        return records.pulls.sort_values("row")["caught"].tolist(), list(records.warnings)

    return read


@pytest.fixture
def book_of(tmp_path):
    """Write a workbook with the rows of pulls, ranges merged."""

    def write(pulls, *merged, settings=()):
        book = openpyxl.Workbook()
        book.active.title = "campaign"
        known = [("setting", "value"), ("title", "Two lakes"), ("species", "common carp")]
        sheets = {
            "lakes": [("lake", "area_ha"), ("Sedge Lake", 42), ("Heron Pond", 6.5)],
            "pulls": pulls,
        }
        for row in [*known, *settings]:
            book["campaign"].append(row)
        for name, rows in sheets.items():
            sheet = book.create_sheet(name)
            for row in rows:
                sheet.append(row)
        for cells in merged:
            book["pulls"].merge_cells(cells)
        book.save(tmp_path / "b.xlsx")
        return tmp_path / "b.xlsx"

    return write


def test_titles_above_the_header_are_named_and_left_out(pulls_read):
    caught, warnings = pulls_read("Wend chain\n\nCrew: A, B\n" + PULLS + PONDS)
    assert caught == [120, 80, 60, 40, 25]
    assert warnings == [at(Odd.TITLE_ROWS, "pulls.csv", 1, None, header=4, rows=[1, 3])]
    assert str(warnings[0]) == (
        'warning: pulls.csv, row 1 = "Wend chain": above the header (row 4), and not read (rows 1 '
        "and 3); nothing to do unless it says something that the rows lack"
    )


def test_totals_are_left_out_and_compared_with_the_rows(pulls_read):
    ends = "Total,,,260,11\n" + PONDS + "Subtotal,,,65,13\n,,Grand total:,325,24\n"
    caught, warnings = pulls_read(PULLS + ends)
    assert caught == [120, 80, 60, 40, 25]
    assert warnings == [at(Odd.TOTAL_ROWS, "pulls.csv", 5, None, rows=[5, 8, 9])]
    caught, warnings = pulls_read(PULLS + PONDS + "Sum,,,325,25\nMean,,,65,5\n", name="off")
    assert warnings == [
        at(Odd.TOTAL_ROWS, "pulls.csv", 7, None, rows=[7, 8]),
        at(Odd.TOTAL_OFF, "pulls.csv", 7, "recaptured", sum=24),
    ]


def test_a_total_without_its_word(pulls_read, campaign, problems):
    caught, warnings = pulls_read(PULLS + PONDS + ",,,325,24\n")
    assert caught == [120, 80, 60, 40, 25]
    assert warnings == [at(Odd.TOTAL_ROWS, "pulls.csv", 7, None, rows=[7])]
    found = problems(campaign(name="off", pulls=PULLS + PONDS + ",,,326,24\n"))
    assert found == [
        at(Wrong.NUMBERS_ALONE, "pulls.csv", 7, None, columns=["date", "lake", "net"], rows=[7])
    ]


def test_a_lake_may_have_a_total_in_its_name(campaign, problems):
    files = {"lakes": "lake,area_ha\nTotal Lake,42\nHeron Pond,6.5\nTotal,48.5\n"}
    files |= {"pulls": (PULLS + PONDS).replace("Sedge", "Total"), "marked": None}
    found = problems(campaign(**files, measured=None, bycatch=None, detections=None))
    assert at(Odd.TOTAL_ROWS, "lakes.csv", 4, None, rows=[4]) in found
    assert not [one for one in found if one.file == "pulls.csv" and one.code is Odd.TOTAL_ROWS]


def test_notes_units_and_repeated_headers_are_left_out(pulls_read):
    header, *rows = PULLS.splitlines()
    pulls = [header, "(y-m-d),,,(n),(n)", *rows, '"Storm, no netting",,,,', header, PONDS]
    caught, warnings = pulls_read("\n".join(pulls))
    assert caught == [120, 80, 60, 40, 25]
    assert warnings == [
        at(Odd.NOTE_ROWS, "pulls.csv", 2, None, rows=[2, 6]),
        at(Odd.HEADER_AGAIN, "pulls.csv", 7, None, rows=[7]),
    ]


def test_a_long_name_alone_is_no_note(campaign, problems):
    lakes = "lake,area_ha\nSedge Lake,42\nHeron Pond,6.5\nLake of the Reeds,\n"
    lakes += "Areas are those of the county.,\n"
    found = problems(campaign(lakes=lakes))
    assert found == [
        at(Wrong.EMPTY_CELL, "lakes.csv", 4, "area_ha"),
        at(Odd.NOTE_ROWS, "lakes.csv", 5, None, rows=[5]),
    ]


@pytest.mark.parametrize("row", ["2025-06-20,,,,", ",Sedge Lake,,,", "2025-06-20,Sedge Lake,,9,"])
def test_a_row_that_lacks_something_is_no_note(campaign, problems, row):
    found = problems(campaign(pulls=f"{PULLS}{PONDS}{row}\n", measured=None, bycatch=None))
    assert {one.code for one in found if one.severity == "error"} == {Wrong.EMPTY_CELL}


def test_remarks_beside_a_sheet(book_of, problems):
    rows = [line.split(",")[:4] for line in (PULLS + PONDS).splitlines()]
    rows[2] += ["", "", "windy"]
    found = problems(book_of([*rows, [""] * 6 + ["checked"]]))
    places = [(problem.row, problem.values["place"], problem.values["filled"]) for problem in found]
    assert places == [(1, "7th", 3)]


def test_merged_names_days_and_temperatures_hold_for_their_rows(book_of):
    day = date(2025, 6, 2)
    path = book_of(
        [
            ("Netting of 2025",),
            ("date", "lake", "net", "caught", "water_temp_c"),
            (day, "Sedge Lake", "N1", 120, 19.5),
            (None, None, "N2", 80),
            (date(2025, 6, 10), None, "N1", 60, 21),
        ],
        "A1:E1",
        "A3:A4",
        "B3:B5",
        "E3:E4",
    )
    records = read_records(path)
    pulls = records.pulls.sort_values("row")
    assert pulls["date"].dt.date.tolist() == [day, day, date(2025, 6, 10)]
    assert set(pulls["lake"]) == {"Sedge Lake"}
    assert pulls["water_temp_c"].tolist() == [19.5, 19.5, 21.0]
    file = "b.xlsx, sheet pulls"
    assert [one for one in records.warnings if one.code is Odd.MERGED_CELLS] == [
        at(Odd.MERGED_CELLS, file, 4, "date", rows=[4]),
        at(Odd.MERGED_CELLS, file, 4, "lake", rows=[4, 5]),
        at(Odd.MERGED_CELLS, file, 4, "water_temp_c", rows=[4]),
    ]


def test_a_merged_count_is_no_count_of_each_row(book_of, problems):
    rows = [line.split(",")[:4] for line in PULLS.splitlines()]
    rows[2][3] = ""
    (found,) = problems(book_of(rows, "D2:D3"))
    assert found == at(Wrong.MERGED_NUMBER, "b.xlsx, sheet pulls", 2, "caught", count=2, rows=[2])


def test_a_header_of_two_rows_with_merged_cells(book_of):
    rows = [
        ("date", "lake", "net", "Fish", None),
        (None, None, None, "caught", "recaptured"),
        (date(2025, 6, 2), "Sedge Lake", "N1", 120, None),
        (date(2025, 6, 10), "Sedge Lake", "N1", 60, None),
    ]
    records = read_records(book_of(rows, "A1:A2", "B1:B2", "C1:C2", "D1:E1"))
    assert records.pulls["caught"].tolist() == [120, 60]


@pytest.mark.parametrize(
    ("style", "text"),
    [
        ("day.month.year", "2.6.2025"),
        ("day.month.year", "02. 06. 25"),
        ("month/day/year", "6/2/2025"),
        ("day/month/year", "2/6/2025"),
        ("day-month-year", "02-06-2025"),
        ("year/month/day", "2025/6/2"),
        ("month/day/year", "2025-06-02"),
    ],
)
def test_dates_as_the_settings_say(pulls_read, style, text):
    change = ("campaign.toml", "species", f'dates = "{style}"\nspecies')
    marked = ("marked.csv", "2025-04-22", "2025-04-22")
    pulls = PULLS.replace("2025-06-02,Sedge Lake,N1", f"{text},Sedge Lake,N1") + PONDS
    caught, warnings = pulls_read(pulls, change, marked)
    assert (caught, warnings) == ([120, 80, 60, 40, 25], [])


def test_dates_in_another_style_than_the_settings_say(campaign, problems, lines):
    change = ("campaign.toml", "species", 'dates = "day.month.year"\nspecies')
    pulls = (PULLS + PONDS).replace("2025-06-12", "31.6.2025").replace("2025-06-03", "6/3/2025")
    folder = campaign(change, pulls=pulls, measured=None, bycatch=None)
    assert problems(folder) == [
        at(Wrong.NOT_OF_DATE_STYLE, "pulls.csv", 5, "date", style="day.month.year"),
        at(Wrong.NO_SUCH_DAY, "pulls.csv", 6, "date"),
    ]
    assert "write the date such as 14.06.2025" in lines(folder)[0]


def test_the_column_tells_the_style_of_dates_that_one_cell_leaves_open(campaign, problems):
    pulls = PULLS.replace("2025-06-02", "6/2/2025").replace("2025-06-10", "6/20/2025")
    (found,) = problems(campaign(pulls=pulls, measured=None, bycatch=None))
    assert found == at(
        Wrong.OTHER_DATE_STYLE, "pulls.csv", 2, "date", styles='dates = "month/day/year"'
    )


def test_days_that_a_spreadsheet_program_took_for_months(campaign, problems):
    change = ("campaign.toml", "species", 'dates = "day/month/year"\nspecies')
    rows = [f"{day:02d}/06/2025" if day > 12 else f"2025-{day:02d}-06" for day in range(8, 17)]
    pulls = "date,lake,net,caught\n" + "".join(f"{day},Sedge Lake,N1,9\n" for day in rows)
    found = problems(campaign(change, pulls=pulls, measured=None, bycatch=None, marked=None))
    file, rows = "pulls.csv", [7, 8, 9, 10]
    swapped = at(
        Wrong.DATES_IN_TWO_STYLES, file, 7, "date", style="day/month/year", throughout=rows
    )
    assert found[0] == swapped
    # Without the setting it is told as well, in place of a line for each date.
    (told,) = problems(
        campaign(name="unset", pulls=pulls, measured=None, bycatch=None, marked=None)
    )
    assert told == swapped
    plain = pulls.replace("2025-08-06", "2025-06-18")
    found = problems(campaign(change, name="other", pulls=plain, measured=None, bycatch=None))
    assert Wrong.DATES_IN_TWO_STYLES not in {problem.code for problem in found}


def test_decimal_commas_as_the_settings_say(campaign, problems):
    change = ("campaign.toml", "species", 'decimal = "comma"\nspecies')
    lakes = "lake;area_ha\nSedge Lake;42\nHeron Pond;6,5\n"
    measured = "date;lake;length_mm;weight_kg\n2025-06-02;Sedge Lake;560;2,5\n"
    files = {"lakes": lakes, "measured": measured}
    pulls = PULLS + PONDS
    records = read_records(campaign(change, pulls=pulls, **files, bycatch=None))
    assert records.lakes["area_ha"].tolist() == [42.0, 6.5]
    assert records.measured["weight_kg"].tolist() == [2.5]
    files = {"lakes": lakes.replace("6,5", "1.000"), "measured": measured.replace("2,5", "2.55")}
    found = problems(campaign(change, name="other", pulls=pulls, **files, bycatch=None))
    assert found == [
        at(Wrong.POINT_OF_THOUSANDS, "lakes.csv", 3, "area_ha", plain="1000", decimal="1,000"),
        at(Wrong.DECIMAL_POINT, "measured.csv", 2, "weight_kg", decimal="2,55"),
    ]


def test_numbers_of_a_sheet_are_numbers_whatever_the_decimal_sign(book_of):
    rows = [
        ("date", "lake", "net", "caught", "water_temp_c"),
        ("2.6.2025", "Sedge Lake", "N1", 120, 19.5),
        (datetime(2025, 6, 3), "Sedge Lake", "N1", "60", "21,25"),
    ]
    settings = [("decimal", "comma"), ("dates", "day.month.year")]
    records = read_records(book_of(rows, settings=settings))
    assert records.pulls["water_temp_c"].tolist() == [19.5, 21.25]
    assert records.pulls["date"].dt.day.tolist() == [2, 3]


def test_times_of_antennas_in_the_style_of_the_dates(campaign):
    settings = 'dates = "day.month.year"\ntime_zone = "-06:00"\nspecies'
    reads = "time,lake,net,tag_id\n02.06.2025 22:04:30,Sedge Lake,N1,00A1\n"
    records = read_records(campaign(("campaign.toml", "species", settings), detections=reads))
    assert records.detections["time"].dt.strftime("%Y-%m-%dT%H:%M:%S").tolist() == [
        "2025-06-03T04:04:30"
    ]


def test_a_crew_keeps_its_own_headings(campaign, lines):
    settings = 'species = "common carp"\n[headings.pulls]\ncaught = "No. Carp"\nnet = "Order"\n'
    change = ("campaign.toml", 'species = "common carp"\n', settings)
    pulls = (PULLS + PONDS).replace("net,caught", " order ,no.  carp")
    folder = campaign(change, pulls=pulls)
    records = read_records(folder)
    assert records.warnings == ()
    assert records.pulls.sort_values("row")["caught"].tolist() == [120, 80, 60, 40, 25]
    assert set(records.pulls["net"]) == {"N1", "N2", "P1"}
    (line,) = lines(campaign(change, name="other", pulls=pulls.replace("120", "-120")))
    assert line.startswith('pulls.csv, row 2, no.  carp = "-120": negative count') or (
        line.startswith('pulls.csv, row 2, no. carp = "-120": negative count')
    )


def test_headings_in_a_workbook(book_of):
    rows = [line.replace("caught", "Carp").split(",") for line in PULLS.splitlines()]
    rows = [row[:4] for row in rows]
    records = read_records(book_of(rows, settings=[("headings.pulls.caught", "Carp")]))
    assert records.pulls["caught"].sum() == 260


def test_headings_are_found_behind_a_text_of_several_lines(campaign, problems):
    # Read by an expression that fits in many ways, such a line of dots takes for ever.
    text = f'title = """\n{"." * 60}\n{". " * 60}\n[{" " * 60}\n"""\nspecies = "common carp"\n'
    settings = f'{text}[headings . "pulls"]\n"caught" = "Carp"\n'
    folder = campaign()
    (folder / "campaign.toml").write_text(settings, encoding="utf-8")
    expected = [at(Wrong.HEADING_ABSENT, "campaign.toml", 8, "headings.pulls.caught")]
    assert problems(folder) == expected


def test_headings_that_cannot_be(campaign, problems):
    settings = """species = "common carp"
[headings.pulls]
caught = "Carp"
nett = "Trap"
recaptured = 3
net = "carp"
[headings.puls]
net = "Trap"
[headings]
lakes = "Water"
"""
    found = problems(campaign(("campaign.toml", 'species = "common carp"\n', settings)))
    file = "campaign.toml"
    assert [problem for problem in found if problem.file == file] == [
        at(Wrong.HEADING_ABSENT, file, 4, "headings.pulls.caught"),
        at(Wrong.HEADING_OF_UNKNOWN_COLUMN, file, 5, "headings.pulls.nett", like="net"),
        at(Wrong.NOT_TEXT, file, 6, "headings.pulls.recaptured"),
        at(Wrong.HEADING_ABSENT, file, 7, "headings.pulls.net"),
        at(Wrong.HEADING_TWICE, file, 7, "headings.pulls.net", other="caught"),
        at(Wrong.HEADING_OF_UNKNOWN_TABLE, file, 9, "headings.puls.net", like="pulls"),
        at(Wrong.HEADINGS_MISPLACED, file, 11, "headings.lakes"),
    ]


@pytest.mark.parametrize(
    ("setting", "code"),
    [
        ('dates = "dd.mm.yy"', Wrong.UNKNOWN_DATE_STYLE),
        ('decimal = ","', Wrong.NEITHER_POINT_NOR_COMMA),
        ("decimal = 3", Wrong.NOT_TEXT),
    ],
)
def test_settings_on_notation_that_cannot_be(campaign, problems, setting, code):
    (found,) = problems(campaign(("campaign.toml", "species", f"{setting}\nspecies")))
    assert found == at(code, "campaign.toml", 2, setting.split()[0])


@pytest.mark.parametrize(
    ("table", "heading", "column"),
    [
        ("pulls", "Carp", "caught"),
        ("pulls", "no. marked", "recaptured"),
        ("pulls", "temp °f", "water_temp_f"),
        ("pulls", "water temperature", "water_temp_c"),
        ("lakes", "surface (acres)", "area_acres"),
        ("measured", "tl in", "length_in"),
        ("measured", "wieght_kg", "weight_kg"),
        ("pulls", "weather", None),
    ],
)
def test_the_column_that_a_heading_means(table, heading, column):
    assert column_meant(heading, TABLES[table]) == column


def test_every_style_reads_what_it_writes():
    for style in DATE_STYLES:
        assert Notation(style).day(example_of(style)) == date(2025, 6, 14)
        assert style in styles_of([example_of(style)])
    assert styles_of(["6/2/2025", "2/16/2025"]) == ["month/day/year"]
    # Two digits in front are no year.
    assert styles_of(["25-6-14"]) == ["day-month-year"]
    assert Notation().day("25-6-14") is None
    assert Notation().day("2025-6") is None


def test_spans_of_rows():
    assert spans_of_rows([2, 3, 4, 7]) == "4 rows (2–4, 7)"
    assert spans_of_rows([2, 4, 6, 8, 10, 12]) == "6 rows (2, 4, 6, 8, 10, …)"
