"""Files that cannot be read, or not as what they seem: each is one clear error."""

from __future__ import annotations

import os
import re
import zipfile
from collections.abc import Callable
from pathlib import Path

import openpyxl
import pytest

from fishdown.cli import main
from fishdown.records import read_records

SAVE_AGAIN = "open the workbook in a spreadsheet program and save it again"
SAVE_AS_XLSX = "open it in a spreadsheet program and save it again as .xlsx"

# --- folders


def test_a_folder_in_place_of_a_table(campaign, lines):
    folder = campaign(bycatch=None)
    (folder / "bycatch.csv").mkdir()
    assert lines(folder) == [
        "bycatch.csv: a folder, not a file; name a file, or put one in its place"
    ]


def test_a_link_to_nothing_in_place_of_a_table(campaign, lines):
    folder = campaign(bycatch=None)
    (folder / "bycatch.csv").symlink_to(folder / "gone.csv")
    assert lines(folder) == [
        "bycatch.csv: a link to a file that is not there; put the file there, or delete it"
    ]


def test_a_pipe_in_place_of_a_table_is_not_waited_for(campaign, lines):
    folder = campaign(bycatch=None)
    os.mkfifo(folder / "bycatch.csv")
    assert lines(folder) == [
        "bycatch.csv: a pipe or device, not a file; put a plain file in its place"
    ]
    (line,) = lines(folder / "bycatch.csv")
    assert "neither a folder nor an .xlsx workbook" in line


def test_a_link_to_itself(campaign, lines):
    folder = campaign(bycatch=None)
    (folder / "bycatch.csv").symlink_to(folder / "bycatch.csv")
    (line,) = lines(folder)
    assert line.startswith("bycatch.csv: cannot be opened (too many levels of symbolic links)")


def test_the_same_table_twice_but_for_case(campaign, lines):
    folder = campaign()
    (folder / "Pulls.csv").write_text("date,lake,net,caught\n", encoding="utf-8")
    assert lines(folder) == [
        "Pulls.csv: the folder has Pulls.csv and pulls.csv, which are the same table; keep one of "
        "them"
    ]


def test_a_folder_that_nobody_may_read(campaign, lines, monkeypatch, capsys):
    folder = campaign()

    def refused(self: Path) -> None:
        raise PermissionError(13, "Permission denied", str(self))

    # The rights of a folder do not bind the user root, as whom tests may run.
    monkeypatch.setattr(Path, "iterdir", refused)
    (line,) = lines(folder)
    assert line == (
        f"{folder}: the folder cannot be opened (permission denied); ask its owner, or the "
        "system's administrator, for the right to read it"
    )
    assert main(["check", str(folder)]) == 1
    assert "written" not in capsys.readouterr().err


@pytest.mark.parametrize("name", ["x" * 300, "a\0b", "campaign/pulls.csv/more"])
def test_paths_that_no_system_has(campaign, lines, name):
    (line,) = lines(campaign().parent / name)
    assert "cannot be opened" in line or "no such folder or workbook" in line


def test_names_that_are_not_utf8(campaign, lines, capsys):
    folder = campaign()
    (folder / os.fsdecode(b"p\xfflls.csv")).write_text("x\n", encoding="utf-8")
    odd = folder.rename(folder.with_name(os.fsdecode(b"lacs l\xe9gers")))
    assert lines(odd) == [
        r'warning: p\udcfflls.csv: unknown file, which is not read; did you mean "pulls.csv"?'
    ]
    assert main(["check", str(odd)]) == 0
    capsys.readouterr().out.encode("utf-8")
    assert main(["check", str(odd / "nowhere")]) == 1
    assert r"lacs l\udce9gers/nowhere: no such folder" in capsys.readouterr().err


# --- CSV


@pytest.mark.parametrize("quote", ["", '"'])
def test_a_cell_beyond_what_csv_holds(campaign, lines, quote):
    note = quote + "x" * 131_073 + quote
    pulls = f"date,lake,net,caught,notes\n2025-06-02,Sedge Lake,N1,12,{note}\n"
    (line,) = lines(campaign(pulls=pulls, marked=None, measured=None, bycatch=None))
    assert line == (
        "pulls.csv, row 2: a cell of more than 131,072 letters; shorten the cell, or close the "
        "quotation mark it begins with"
    )


def test_a_name_of_many_letters(campaign, lines):
    found = lines(campaign(("bycatch.csv", "pike", "pike" * 1000)))
    assert found == [
        f'bycatch.csv, row 3, species = "{("pike" * 15)[:59]}…": 4,000 letters, more than 200; '
        "write a shorter name"
    ]


def test_letters_that_cannot_be_shown_stay_out_of_messages(campaign, lines):
    lakes = "lake,area_ha,no\x1b[2Jte\nSedge Lake,4\x072,\nHeron Pond,6.5,\n"
    text = "\n".join(lines(campaign(lakes=lakes)))
    assert r'area_ha = "4\x072"' in text
    assert r"no\x1b[2jte: unknown column" in text
    assert "\x1b" not in text


def test_formulas_and_errors_of_a_spreadsheet_in_csv(campaign, lines):
    found = lines(
        campaign(("pulls.csv", "N2,80", "N2,=B2+1"), ("pulls.csv", "Heron Pond,P1", "#REF!,P1"))
    )
    assert found == [
        'pulls.csv, row 3, caught = "=B2+1": a formula without its value; write the value, or '
        "open the file in a spreadsheet program and save it again",
        'pulls.csv, row 5, lake = "#REF!": an error of the spreadsheet; mend its formula, or write '
        "the value",
    ]


# --- workbooks


@pytest.fixture
def book(campaign, as_workbook, tmp_path):
    return as_workbook(campaign(), tmp_path / "b.xlsx")


@pytest.fixture
def sheet_part(book: Path) -> Callable[..., Path]:
    """Change the XML of a sheet of the workbook by a regular expression."""

    def change(sheet: str, pattern: str, new: str) -> Path:
        names = [found.title for found in openpyxl.load_workbook(book, read_only=True).worksheets]
        part = f"xl/worksheets/sheet{names.index(sheet) + 1}.xml"
        return rewritten(book, part, lambda xml: replaced(pattern, new, xml))

    return change


def replaced(pattern: str, new: str, xml: str) -> str:
    changed, times = re.subn(pattern, new, xml, count=1, flags=re.DOTALL)
    assert times == 1
    return changed


def rewritten(book: Path, part: str, change: Callable[[str], str | None]) -> Path:
    with zipfile.ZipFile(book) as archive:
        parts = {name: archive.read(name) for name in archive.namelist()}
    new = change(parts.pop(part).decode("utf-8"))
    with zipfile.ZipFile(book, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in parts.items():
            archive.writestr(name, content)
        if new is not None:
            archive.writestr(part, new)
    return book


@pytest.mark.parametrize("cut", [10, 500, 3000, -30])
def test_a_workbook_cut_short(book, lines, cut):
    book.write_bytes(book.read_bytes()[:cut])
    assert lines(book) == [f"b.xlsx: cannot be read as a workbook; {SAVE_AS_XLSX}"]


def test_a_workbook_with_flipped_bytes(book, lines):
    content = bytearray(book.read_bytes())
    with zipfile.ZipFile(book) as archive:
        part = archive.getinfo("xl/worksheets/sheet1.xml")
    place = part.header_offset + part.compress_size
    content[place - 30 : place] = bytes(30)
    book.write_bytes(content)
    assert lines(book) == [f"b.xlsx: cannot be read as a workbook; {SAVE_AS_XLSX}"]


def test_a_sheet_damaged_at_its_end(sheet_part, lines):
    changed = sheet_part("bycatch", "</sheetData>", f"<!--{'x' * 300_000}--></sheetDat>")
    (line,) = lines(changed)
    assert line.startswith("b.xlsx, sheet bycatch: the sheet is damaged (mismatched tag")
    assert line.endswith(SAVE_AGAIN)


def test_a_workbook_with_a_password(book, lines):
    content = bytearray(book.read_bytes())
    for mark, place in ((b"PK\x03\x04", 6), (b"PK\x01\x02", 8)):
        for found in re.finditer(re.escape(mark), bytes(content)):
            content[found.start() + place] |= 1
    book.write_bytes(content)
    mend = "take the password off and save it as .xlsx"
    assert lines(book) == [f"b.xlsx: a workbook with a password; {mend}"]
    book.write_bytes(b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(600))
    assert lines(book) == [
        f"b.xlsx: a workbook with a password, or one of the older format .xls; {mend}"
    ]


def test_an_unknown_compression(book, lines):
    content = bytearray(book.read_bytes())
    for mark, place in ((b"PK\x03\x04", 8), (b"PK\x01\x02", 10)):
        for found in re.finditer(re.escape(mark), bytes(content)):
            content[found.start() + place : found.start() + place + 2] = (99).to_bytes(2, "little")
    book.write_bytes(content)
    assert lines(book) == [f"b.xlsx: packed in a way that no workbook is; {SAVE_AS_XLSX}"]


def test_a_workbook_that_unpacks_to_more_than_a_computer_holds(book, lines):
    content = bytearray(book.read_bytes())
    for found in re.finditer(b"PK\x01\x02", bytes(content)):
        content[found.start() + 24 : found.start() + 28] = (4_000_000_000).to_bytes(4, "little")
    book.write_bytes(content)
    (line,) = lines(book)
    assert "GB, more than 1 GB; copy the tables into a new workbook" in line


@pytest.mark.parametrize("number", ["9999", "-1", "one"])
def test_text_that_the_workbook_does_not_hold(sheet_part, lines, number):
    cell = f'<c r="A3" t="s"><v>{number}</v></c>'
    changed = sheet_part("lakes", r'<c r="A3" .*?</c>', cell)
    (line,) = [line for line in lines(changed) if "lakes" in line]
    assert line.startswith("b.xlsx, sheet lakes: cell A3 cannot be read (")
    assert line.endswith(SAVE_AGAIN)


def test_two_sheets_of_one_name(book, lines):
    opened = openpyxl.load_workbook(book)
    opened.create_sheet(" Pulls ").append(["date", "lake", "net", "caught"])
    opened.save(book)
    assert lines(book) == [
        'b.xlsx, sheet pulls: 2 sheets are this table: "pulls" and " Pulls "; keep one of them'
    ]


def test_a_sheet_that_the_workbook_only_lists(book, lines):
    changed = rewritten(book, "xl/worksheets/sheet2.xml", lambda _: None)
    assert lines(changed) == [
        "b.xlsx, sheet bycatch: the workbook lists the sheet, and does not hold it; " + SAVE_AS_XLSX
    ]


@pytest.mark.parametrize(
    ("column", "row", "name", "value"), [("E", 5, "recaptured", "=D5*2"), ("D", 3, "caught", "=C3")]
)
def test_a_formula_without_its_value(book, lines, column, row, name, value):
    opened = openpyxl.load_workbook(book)
    opened["pulls"][f"{column}{row}"] = value
    opened.save(book)
    assert lines(book) == [
        f'b.xlsx, sheet pulls, row {row}, {name} = "{value}": a formula without its value; write '
        "the value, or open the file in a spreadsheet program and save it again"
    ]


def test_a_formula_with_its_value(sheet_part):
    whole = r'<c r="D3"[^>]*><v>80</v></c>'
    changed = sheet_part("pulls", whole, '<c r="D3"><f>40*2</f><v>80</v></c>')
    assert read_records(changed).pulls["caught"].sum() == 325
    # That the formula gives no text is a value, too.
    empty = '<c r="F3" t="str"><f>IF(1,"","")</f><v></v></c>'
    changed = sheet_part("pulls", r"(<f>40\*2</f><v>80</v></c>.*?)(?=<c r=.G3)", rf"\1{empty}")
    assert read_records(changed).pulls["released_again"].sum() == 1


@pytest.mark.parametrize(
    ("pattern", "new", "line"),
    [
        (r'<row r="3"', '<row r="0"', 'a row with the number "0" behind row 2'),
        (r'<row r="3"', '<row r="-3"', 'a row with the number "-3" behind row 2'),
        (r'<row r="3"', '<row r="2"', 'a row with the number "2" behind row 2'),
        (r'<row r="3"', '<row r="99999999999"', 'a row with the number "99999999999" behind row 2'),
        (r'<row r="3"', '<row r="three"', "a row or cell behind row 2 cannot be placed ("),
        (r'<row r="3"', '<row r="1e999"', "a row or cell behind row 2 cannot be placed ("),
        (r'r="B3"', 'r="B9"', "row 3: cells of other rows, or out of order"),
        (r'r="B3"', 'r="A3"', "row 3: cells of other rows, or out of order"),
        (r'r="B3"', 'r="three"', "cell three cannot be read ("),
        (r'r="B3"', 'r="ZZZZZ3"', "cell ZZZZZ3 cannot be read ("),
    ],
)
def test_rows_and_cells_in_no_place(sheet_part, lines, pattern, new, line):
    (found,) = [found for found in lines(sheet_part("lakes", pattern, new)) if "lakes" in found]
    assert found.removeprefix("b.xlsx, sheet lakes").lstrip(":, ").startswith(line)
    assert found.endswith(SAVE_AGAIN)


def test_rows_and_cells_may_leave_their_numbers_out(sheet_part):
    changed = sheet_part("lakes", r'<row r="3"[^>]*><c r="A3"', "<row><c")
    assert read_records(changed).lakes["lake"].tolist() == ["Sedge Lake", "Heron Pond"]


def test_a_formatted_cell_far_out_costs_nothing(book):
    import tracemalloc

    plain = read_records(book)
    opened = openpyxl.load_workbook(book)
    opened["pulls"]["XFD100000"].font = openpyxl.styles.Font(bold=True)
    opened.save(book)
    tracemalloc.start()
    records = read_records(book)
    most = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert records.pulls.equals(plain.pulls)
    # A rectangle up to that cell has 1.6 thousand million cells.
    assert most < 50e6


def test_a_filled_cell_far_out_is_told(book, lines):
    opened = openpyxl.load_workbook(book)
    opened["pulls"]["XFD100000"] = "mine"
    opened.save(book)
    assert lines(book) == [
        "warning: b.xlsx, sheet pulls, row 1: the 16384th column has no name and is not read "
        "(first filled in row 100000); name it, or delete it"
    ]
