"""A new campaign: it says what to fill in, and is a clean one once that is done."""

from __future__ import annotations

from datetime import date

import openpyxl
import pytest

from fishdown.blank_campaign import new_campaign
from fishdown.cli import main
from fishdown.errors import FishdownError
from fishdown.records import RecordsError, read_records
from fishdown.records.codes import Wrong
from fishdown.records.rules_examples import EXAMPLE_LAKE
from fishdown.records.tables import TABLES
from fishdown.records.us_columns import METRIC

CORE = ["lakes", "pulls", "marked", "measured", "bycatch"]


def problems_of(path):
    with pytest.raises(RecordsError) as raised:
        read_records(path)
    return [(one.code, one.column) for one in raised.value.problems]


@pytest.mark.parametrize("us", [False, True])
@pytest.mark.parametrize("name", ["new", "new.xlsx"])
def test_only_the_title_and_the_examples_are_to_be_replaced(tmp_path, name, us):
    written = new_campaign(tmp_path / name, us=us)
    assert len(written) == 6
    missing = (Wrong.MISSING_SETTING, "title")
    assert sorted(problems_of(tmp_path / name), key=str) == sorted(
        [missing, *[(Wrong.EXAMPLE_ROW, "lake")] * 5], key=str
    )
    assert {file.name for file in tmp_path.iterdir()} == {name}


@pytest.mark.parametrize("us", [False, True])
def test_a_folder_is_clean_once_it_is_filled_in(tmp_path, us):
    folder = tmp_path / "new"
    new_campaign(folder, us=us)
    for file in folder.iterdir():
        text = file.read_text("utf-8").replace(EXAMPLE_LAKE, "Sedge Lake")
        file.write_text(text.replace('title = ""', 'title = "Ours"'), "utf-8")
    records = read_records(folder)
    assert records.warnings == ()
    assert records.lakes["area_ha"].tolist() == pytest.approx([25.0], rel=0.01)
    assert records.pulls["water_temp_c"].tolist() == [20.0]
    assert records.measured["weight_kg"].tolist() == pytest.approx([2.5], rel=0.01)
    assert records.settings.threshold_kg_per_ha == pytest.approx(100.0, rel=0.01)


def test_a_workbook_is_clean_once_it_is_filled_in(tmp_path):
    path = tmp_path / "new.xlsx"
    new_campaign(path)
    book = openpyxl.load_workbook(path)
    for sheet in book.worksheets:
        for row in sheet.iter_rows():
            for cell in row:
                if cell.value == EXAMPLE_LAKE:
                    cell.value = "Sedge Lake"
    book["campaign"]["B2"] = "Ours"
    # What a crew does next: a day without a time under the example.
    book["pulls"].append([date(2025, 6, 12), "Sedge Lake", "north bay", 60])
    book.save(path)
    records = read_records(path)
    assert records.settings.title == "Ours"
    assert records.pulls["caught"].tolist() == [120, 60]


def test_the_workbook_explains_and_checks_its_cells(tmp_path):
    new_campaign(tmp_path / "new.xlsx", us=True)
    book = openpyxl.load_workbook(tmp_path / "new.xlsx")
    assert book.sheetnames == ["campaign", *CORE]
    pulls = book["pulls"]
    headings = {cell.value: cell for cell in pulls[1]}
    assert all(cell.comment for cell in headings.values())
    assert "°F" in headings["water_temp_f"].comment.text
    assert "must be filled" in headings["caught"].comment.text
    rules = {
        headings_of: rule
        for rule in pulls.data_validations.dataValidation
        for headings_of in [pulls.cell(1, next(iter(rule.sqref.ranges)).min_col).value]
    }
    assert rules["date"].type == "date"
    assert (rules["caught"].type, rules["caught"].formula1) == ("whole", "0")
    assert rules["spoiled"].formula1 == '"yes,no"'
    assert rules["water_temp_f"].type == "decimal"
    assert pulls["A2"].number_format == "yyyy-mm-dd"


@pytest.mark.parametrize("name", ["new", "new.xlsx"])
def test_nothing_is_overwritten(tmp_path, name):
    new_campaign(tmp_path / name)
    before = {file: file.read_bytes() for file in tmp_path.rglob("*") if file.is_file()}
    with pytest.raises(FishdownError, match="name a"):
        new_campaign(tmp_path / name)
    after = {file: file.read_bytes() for file in tmp_path.rglob("*") if file.is_file()}
    assert before == after


def test_a_file_in_the_place_of_the_folder(tmp_path):
    (tmp_path / "new").write_text("mine")
    with pytest.raises(FishdownError, match="name another folder"):
        new_campaign(tmp_path / "new")


def test_an_empty_folder_is_filled(tmp_path):
    (tmp_path / "new").mkdir()
    new_campaign(tmp_path / "new")
    assert (tmp_path / "new" / "campaign.toml").is_file()


def test_every_column_is_one_that_is_read(tmp_path):
    for us in (False, True):
        folder = tmp_path / f"{us}"
        new_campaign(folder, us=us)
        for table in CORE:
            header = (folder / f"{table}.csv").read_text("utf-8").splitlines()[0].split(",")
            assert {METRIC.get(name, name) for name in header} <= TABLES[table].keys()
            assert {name for name, one in TABLES[table].items() if one.required} <= {
                METRIC.get(name, name) for name in header
            }


def test_an_example_among_own_rows_is_named(tmp_path):
    folder = tmp_path / "new"
    new_campaign(folder)
    with (folder / "bycatch.csv").open("a") as file:
        file.write("2025-06-10,Sedge Lake,north bay,pike,1,0\n")
    with pytest.raises(RecordsError) as raised:
        read_records(folder)
    (line,) = [str(one) for one in raised.value.problems if one.file == "bycatch.csv"][:1]
    assert line.endswith("an example, and nobody's record; replace the row by your own")


def test_the_command(tmp_path, capsys):
    assert main(["new", str(tmp_path / "lakes")]) == 0
    assert "fishdown check" in capsys.readouterr().out
    assert main(["check", str(tmp_path / "lakes")]) == 1
    assert main(["new", str(tmp_path / "lakes")]) == 2
    assert "is not empty" in capsys.readouterr().err
