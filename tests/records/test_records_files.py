"""Folders and workbooks: what is there, what is missing, what cannot be read."""

from __future__ import annotations

import hashlib
import subprocess
import sys
from datetime import datetime

import pandas as pd
import pytest

from fishdown.records import read_records
from fishdown.records.problems import RecordsError

TABLES = (
    "lakes", "marked", "pulls", "recaptures", "measured", "bycatch", "bycatch_limits",
    "species_names", "detections"
)  # fmt: skip


def assert_same(one, other):
    assert one.settings == other.settings
    for name in TABLES:
        pd.testing.assert_frame_equal(getattr(one, name), getattr(other, name))


def test_a_clean_campaign_has_no_problems(campaign, lines):
    assert lines(campaign()) == []


def test_folder_that_does_not_exist(tmp_path, lines):
    (line,) = lines(tmp_path / "nowhere")
    assert "nowhere: no such folder or workbook" in line


def test_a_file_that_is_no_workbook(campaign, lines):
    (line,) = lines(campaign() / "pulls.csv")
    assert "pulls.csv: neither a folder nor an .xlsx workbook" in line


def test_an_empty_folder(tmp_path, lines):
    (line,) = lines(tmp_path)
    assert "neither campaign.toml nor any table of a campaign" in line


def test_missing_settings_and_tables_are_told_together(campaign, lines):
    folder = campaign(lakes=None, pulls=None)
    (folder / "campaign.toml").unlink()
    assert lines(folder) == [
        "campaign.toml: missing file; add it, with the lines title and species",
        "lakes.csv: missing file; add it, with the columns lake, area_ha",
        "pulls.csv: missing file; add it, with the columns date, lake, net, caught",
    ]


def test_unexpected_files(campaign, lines):
    folder = campaign(pull="x\n", xyzzy="x\n")
    (folder / "notes.txt").write_text("not ours")
    assert lines(folder) == [
        'warning: pull.csv: unknown file, which is not read; did you mean "pulls.csv"?',
        "warning: xyzzy.csv: unknown file, which is not read; known files are lakes.csv, "
        "areas.csv, marked.csv, pulls.csv, recaptures.csv, measured.csv, movements.csv, "
        "surveys.csv, second_looks.csv, bycatch.csv, bycatch_limits.csv, species_names.csv, "
        "tags.csv, detections.csv, clock_checks.csv",
    ]


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ('title = "A\nspecies = "b"\n', "campaign.toml, row 1: not valid TOML (illegal character"),
        ('title = "A"\n\nspecies = carp\n', "campaign.toml, row 3: not valid TOML (invalid value"),
        ('title = "A"\nspecies = """carp\n', "campaign.toml, row 2: not valid TOML (unterminated"),
        (f"\ntitle = 1{'0' * 5000}", "campaign.toml, row 2: a whole number beyond 9,223,372"),
        (f"\ntitle = 0x1{'0' * 5000}", "campaign.toml, row 2: a whole number beyond 9,223,372"),
        (f"\na = {{ b = [1{'0' * 20}] }}", "campaign.toml, row 2: a whole number beyond 9,223,372"),
        (f"title = {'[' * 1500}{']' * 1500}", "campaign.toml, row 1: tables or lists nested more"),
        (f"\ntitle = {'[' * 30}{']' * 30}", "campaign.toml, row 2: tables or lists nested more"),
        (f"{'a.' * 1500}a = 1", "campaign.toml, row 1: tables or lists nested more than 20 deep"),
        (f"title = '{'a' * 20_000}'", "campaign.toml: 20,010 letters are more than the 20,000 of"),
    ],
)
def test_settings_that_are_not_toml(campaign, lines, text, line):
    folder = campaign()
    (folder / "campaign.toml").write_text(text)
    (found,) = lines(folder)
    assert found.startswith(line)


def test_settings_with_problems(campaign, lines):
    folder = campaign()
    (folder / "campaign.toml").write_text(
        'title = 3\nspecies = "bighead carp"\ncost_per_pul = 3\ncost_per_field_day = "much"\n'
        "currency = []\ncost_per_pull = nan\n"
    )
    assert lines(folder) == [
        "campaign.toml, threshold_kg_per_ha: missing setting; only common carp has a default, not "
        "bighead carp; write the biomass density to get below, in kg/ha, above 0",
        'campaign.toml, row 1, title = "3": not a text; write the campaign\'s title in quotation '
        "marks",
        'campaign.toml, row 4, cost_per_field_day = "much": not a number; write the cost of one '
        "field day, 0 or more",
        'campaign.toml, row 5, currency = "[]": not a text; write the currency of the costs, such '
        'as "EUR"',
        'campaign.toml, row 6, cost_per_pull = "nan": not a finite number; write the cost of one '
        "pull, 0 or more",
        "warning: campaign.toml, row 3, cost_per_pul: unknown setting, which is not read; did you "
        'mean "cost_per_pull"?',
    ]


@pytest.mark.parametrize("threshold", ["0", "-3"])
def test_threshold_must_be_above_zero(campaign, lines, threshold):
    folder = campaign(("campaign.toml", "species", f"threshold_kg_per_ha = {threshold}\nspecies"))
    (line,) = lines(folder)
    assert line.startswith(f'campaign.toml, row 2, threshold_kg_per_ha = "{threshold}": ')


@pytest.mark.parametrize("sign", [";", "\t"])
def test_semicolons_and_tabs_between_the_columns(campaign, lines, sign):
    lakes = f"lake{sign}area_ha\nSedge Lake{sign}42\nHeron Pond{sign}6.5\n"
    folder = campaign(lakes=lakes)
    assert lines(folder) == []
    assert read_records(folder).lakes["area_ha"].tolist() == [42.0, 6.5]
    (line,) = lines(campaign(name="decimals", lakes=lakes.replace("6.5", "6,5")))
    assert 'row 3, area_ha = "6,5": not a number because of the comma' in line


def test_wrong_encoding(campaign, lines):
    folder = campaign(lakes="lake,area_ha\nSedge Lake,42\nHeron Pond,6.5\nLac Léger,3\n")
    text = (folder / "lakes.csv").read_text(encoding="utf-8")
    (folder / "lakes.csv").write_bytes(text.encode("latin-1"))
    assert lines(folder) == [
        "lakes.csv, row 4: a character that is not UTF-8; save the file again in the encoding "
        'UTF-8 (in a spreadsheet: "CSV UTF-8")'
    ]
    (folder / "lakes.csv").write_bytes(text.encode("utf-16"))
    (line,) = lines(folder)
    assert line.startswith("lakes.csv, row 1: a character that is not UTF-8")


def test_ragged_rows(campaign, lines):
    folder = campaign(
        ("pulls.csv", "N2,80,2,,19.5", "N2,80"),
        ("pulls.csv", "60,3,1,21", "60"),
        ("pulls.csv", "25,5,,22.5", "25,5,,22.5,9"),
    )
    mend = "put every value under its column; a value with a comma needs quotation marks"
    assert lines(folder) == [
        f"pulls.csv, row 3: the row has 4 cells, the header has 7 (rows 3 and 4); {mend}",
        f"pulls.csv, row 6: the row has 8 cells, the header has 7; {mend}",
    ]


def test_open_quotation_mark(campaign, lines):
    (line,) = lines(campaign(("pulls.csv", "N2", '"N2')))
    assert line.startswith("pulls.csv, row 3: quotation marks that do not close")


@pytest.mark.parametrize("text", ["", "\n\n", ",,\n"])
def test_empty_file(campaign, lines, text):
    assert lines(campaign(lakes=text)) == [
        "lakes.csv: empty file; write the column names and the rows"
    ]


def test_header_only(campaign, lines):
    header = "date,lake,net,caught\n"
    (line,) = lines(campaign(pulls=header))
    assert line == "pulls.csv: no rows under the header; write one row a pull"
    found = lines(campaign(name="other", bycatch="date,lake,net,species,count\n"))
    assert found == [
        "warning: bycatch.csv: no rows under the header; write the rows, or delete the table"
    ]


def test_byte_order_mark_and_line_ends_make_no_difference(campaign):
    plain = read_records(campaign())
    folder = campaign(name="marked_with_bom")
    for file in folder.iterdir():
        text = file.read_text(encoding="utf-8").replace("\n", "\r\n")
        file.write_bytes(text.encode("utf-8-sig"))
    assert_same(plain, read_records(folder))


def test_blank_lines_and_cells_over_several_lines_keep_the_line_numbers(campaign, lines):
    pulls = (
        "\ndate,lake,net,caught\n\n,,,\n2025-06-02,Sedge Lake,N1,12\n"
        '2025-06-02,Sedge Lake,"N\n2",13\n2025-06-02,Sedge Lake,N3,-14\n'
    )
    found = lines(campaign(pulls=pulls, marked=None, measured=None, bycatch=None))
    assert found == [
        'pulls.csv, row 8, caught = "-14": negative count; write the number of fish, 0 or more'
    ]


def test_file_names_in_any_case(campaign):
    folder = campaign()
    (folder / "pulls.csv").rename(folder / "Pulls.CSV")
    records = read_records(folder)
    assert "Pulls.CSV" in records.hashes
    assert len(records.pulls) == 5


def test_hashes_are_those_of_the_files(campaign):
    folder = campaign()
    hashes = read_records(folder).hashes
    assert hashes == {
        file.name: hashlib.sha256(file.read_bytes()).hexdigest() for file in folder.iterdir()
    }


def test_reading_twice_is_equal_and_writes_nothing(campaign):
    folder = campaign()
    before = {file: (file.stat().st_mtime_ns, file.read_bytes()) for file in folder.rglob("*")}
    assert_same(read_records(folder), read_records(folder))
    after = {file: (file.stat().st_mtime_ns, file.read_bytes()) for file in folder.rglob("*")}
    assert before == after
    assert {file.name for file in folder.parent.iterdir()} == {folder.name}


def test_importing_the_room_is_light():
    code = (
        "import sys, fishdown.records as records; "
        "heavy = {'pandas', 'openpyxl', 'xarray', 'scipy', 'pymc'}; "
        "assert not heavy & sys.modules.keys(), heavy & sys.modules.keys(); "
        "from fishdown.records import reader, rules, clean, draft; "
        "assert not {'xarray', 'scipy', 'pymc'} & sys.modules.keys()"
    )
    subprocess.run([sys.executable, "-c", code], check=True)


def test_reading_needs_neither_arrays_nor_models(campaign):
    code = (
        "import sys; from fishdown.records import read_records; read_records(sys.argv[1]); "
        "heavy = {'xarray', 'scipy', 'pymc'} & sys.modules.keys(); assert not heavy, heavy"
    )
    subprocess.run([sys.executable, "-c", code, str(campaign())], check=True)


def test_checking_needs_neither_arrays_nor_models(campaign):
    """The clean campaign has detections, too."""
    code = (
        "import sys; from fishdown.cli import main; assert main(['check', sys.argv[1]]) == 0; "
        "heavy = {'xarray', 'scipy', 'pymc'} & sys.modules.keys(); assert not heavy, heavy"
    )
    subprocess.run([sys.executable, "-c", code, str(campaign())], check=True)


def test_folder_and_workbook_give_equal_tables(campaign, as_workbook, tmp_path):
    folder = campaign(
        ("campaign.toml", "species", "cost_per_pull = 180.5\nspecies"),
        ("pulls.csv", "released_again", "season"),
        ("pulls.csv", "120,6,0", "120,6,2025"),
        ("pulls.csv", "60,3,1", "60,3,"),
    )
    book = as_workbook(folder, tmp_path / "wend.xlsx")
    one, other = read_records(folder), read_records(book)
    assert_same(one, other)
    assert list(other.hashes) == ["wend.xlsx"]
    assert other.settings.cost_per_pull == 180.5


def test_problems_of_a_workbook_name_the_sheet_and_its_row(campaign, as_workbook, tmp_path, lines):
    folder = campaign(
        ("pulls.csv", "2025-06-10,Sedge Lake,N1,60", "\n\n2025-06-10,Sedge Lake,N1,-60"),
        ("campaign.toml", "species", "specis"),
        mesured="x\n",
    )
    book = as_workbook(folder, tmp_path / "wend.xlsx")
    assert lines(book) == [
        "wend.xlsx, sheet campaign, species: missing setting; write the fish that is removed, "
        'such as "common carp"',
        'wend.xlsx, sheet pulls, row 6, caught = "-60": negative count; write the number of fish, '
        "0 or more",
        "warning: wend.xlsx, sheet campaign, row 3, specis: unknown setting, which is not read; "
        'did you mean "species"?',
        "warning: wend.xlsx, sheet mesured: unknown sheet, which is not read; did you mean "
        '"measured"?',
    ]


def test_missing_sheets(tmp_path, lines):
    openpyxl = pytest.importorskip("openpyxl")
    book = openpyxl.Workbook()
    book.active.title = "lakes"
    book.active.append(["lake", "area_ha"])
    book.active.append(["Sedge Lake", 42])
    book.save(tmp_path / "b.xlsx")
    assert lines(tmp_path / "b.xlsx") == [
        "b.xlsx, sheet campaign: missing sheet; add it, with the columns setting and value, and "
        "the rows title and species",
        "b.xlsx, sheet pulls: missing sheet; add it, with the columns date, lake, net, caught",
    ]


def test_settings_sheet_with_wrong_columns_and_a_setting_twice(
    campaign, as_workbook, tmp_path, lines
):
    openpyxl = pytest.importorskip("openpyxl")
    path = as_workbook(campaign(), tmp_path / "b.xlsx")
    book = openpyxl.load_workbook(path)
    book["campaign"].append(["title", "Another title"])
    book.save(path)
    assert lines(path) == [
        'b.xlsx, sheet campaign, row 4, setting = "title": the setting is given twice; keep one '
        "of them"
    ]
    book["campaign"]["B1"] = "what"
    book.save(path)
    found = lines(path)
    assert found == [
        "b.xlsx, sheet campaign, row 1, value: missing column; add it: the values of the settings"
    ]


def test_a_file_that_only_calls_itself_a_workbook(tmp_path, lines):
    (tmp_path / "b.xlsx").write_text("date,lake\n")
    assert lines(tmp_path / "b.xlsx") == [
        "b.xlsx: cannot be read as a workbook; open it in a spreadsheet program and save it again "
        "as .xlsx"
    ]


def test_a_time_in_a_workbook_needs_its_zone(campaign, as_workbook, tmp_path, lines):
    openpyxl = pytest.importorskip("openpyxl")
    path = as_workbook(campaign(), tmp_path / "b.xlsx")
    book = openpyxl.load_workbook(path)
    book["detections"]["A2"] = datetime(2025, 6, 2, 22, 4)
    book.save(path)
    (line,) = lines(path)
    assert "row 2, time" in line
    assert "time without a time zone; add the zone: 2025-06-02T22:04:00Z" in line


def test_the_error_is_one_of_the_family(tmp_path):
    with pytest.raises(RecordsError, match="1 problem in the records"):
        read_records(tmp_path)
