"""Read the sheets of an .xlsx workbook as if they were CSV files."""

from __future__ import annotations

import hashlib
import io
import warnings
from collections import defaultdict
from typing import TYPE_CHECKING, Any
from zipfile import ZIP_DEFLATED, ZIP_STORED, ZipFile

from fishdown.records.plain_file import UnreadableError, read_plain
from fishdown.records.problems import Problem, printable
from fishdown.records.settings import Entry
from fishdown.records.source import Source, unexpected
from fishdown.records.tables import REQUIRED_TABLES, TABLES
from fishdown.records.text import text_table

if TYPE_CHECKING:
    from pathlib import Path

    from fishdown.records.text import TextTable

# Where an older format, or a workbook with a password, begins.
_OLD_OR_LOCKED = b"\xd0\xcf\x11\xe0"
# Half a million pulls unpack to a tenth of this; an archive can be made to unpack to anything.
_MOST_BYTES = 1_000_000_000
_MEND = "open it in a spreadsheet program and save it again as .xlsx"


def open_workbook(place: Path) -> Source:
    """Read all sheets of a workbook as text.

    Parameters
    ----------
    place : pathlib.Path
        The workbook.

    Returns
    -------
    Source
        What was found, with every problem of its sheets.
    """
    known = ["campaign", *TABLES]
    source = Source({name: f"{place.name}, sheet {name}" for name in known})
    try:
        content = read_plain(place)
        book, lost = _opened(content)
    except UnreadableError as error:
        source.report([Problem(place.name, None, None, "", error.wrong, error.mend)])
        source.unreadable.update(TABLES)
        return source
    source.hashes[printable(place.name)] = hashlib.sha256(content).hexdigest()
    sheets: dict[str, list[Any]] = defaultdict(list)
    for sheet in book.worksheets:
        sheets[sheet.title.strip().lower()].append(sheet)
    for title in lost:
        wrong = "the workbook lists the sheet, and does not hold it"
        source.report([Problem(f"{place.name}, sheet {title}", None, None, "", wrong, _MEND)])
        source.unreadable.add(title.strip().lower())
    for name in known:
        if len(sheets[name]) == 1:
            source.files[name] = f"{place.name}, sheet {sheets[name][0].title}"
            _read_sheet(name, book, sheets[name][0], source)
        elif sheets[name]:
            source.unreadable.add(name)
            titles = " and ".join(f'"{sheet.title}"' for sheet in sheets[name])
            wrong = f"{len(sheets[name])} sheets are this table: {titles}"
            problem = Problem(source.files[name], None, None, "", wrong, "keep one of them")
            source.report([problem])
        elif name in ("campaign", *REQUIRED_TABLES) and name not in source.unreadable:
            source.unreadable.add(name)
            columns = [column for column, field in TABLES.get(name, {}).items() if field.required]
            mend = f"add it, with the columns {', '.join(columns or ['setting', 'value'])}"
            file = source.files[name]
            source.report([Problem(file, None, None, "", "missing sheet", mend)])
    for lower, unknown in sheets.items():
        if lower not in known:
            source.report(
                [
                    unexpected(f"{place.name}, sheet {sheet.title}", lower, known, "sheet")
                    for sheet in unknown
                ]
            )
    return source


def _opened(content: bytes) -> tuple[Any, list[str]]:
    """Open a workbook for reading; also return the titles of sheets that it lacks."""
    from openpyxl.reader.excel import ExcelReader

    if content.startswith(_OLD_OR_LOCKED):
        wrong = "a workbook with a password, or one of the older format .xls"
        raise UnreadableError(wrong, "take the password off and save it as .xlsx")
    try:
        with ZipFile(io.BytesIO(content)) as archive:
            _refuse(archive)
        with warnings.catch_warnings():
            # It warns of form elements that it cannot keep; we only read values.
            warnings.simplefilter("ignore")
            reader = ExcelReader(
                io.BytesIO(content), read_only=True, data_only=True, keep_links=False
            )
            reader.read()
    except UnreadableError:
        raise
    except Exception as error:
        # Damage shows as an error of the archive, of its XML or of any class of the reader.
        raise UnreadableError("cannot be read as a workbook", _MEND) from error
    found = {sheet.title for sheet in reader.wb._sheets}
    listed = [str(sheet.name) for sheet in reader.parser.sheets]
    return reader.wb, [title for title in listed if title not in found]


def _refuse(archive: ZipFile) -> None:
    parts = archive.infolist()
    if any(part.flag_bits & 1 for part in parts):
        wrong = "a workbook with a password"
        raise UnreadableError(wrong, "take the password off and save it as .xlsx")
    if any(part.compress_type not in (ZIP_STORED, ZIP_DEFLATED) for part in parts):
        raise UnreadableError("packed in a way that no workbook is", _MEND)
    size = sum(part.file_size for part in parts)
    if size > _MOST_BYTES:
        wrong = f"unpacks to {size / 1e9:.1f} GB, more than {_MOST_BYTES / 1e9:.0f} GB"
        raise UnreadableError(wrong, "copy the tables into a new workbook")


def _read_sheet(name: str, book: Any, sheet: Any, source: Source) -> None:
    from fishdown.records.sheet import sheet_lines

    file = source.files[name]
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            table, problems = text_table(file, sheet_lines(book, sheet), padded=True)
    except UnreadableError as error:
        table = None
        problems = [Problem(file, error.row, None, "", error.wrong, error.mend)]
    source.report(problems)
    if table is None:
        source.unreadable.add(name)
    elif name == "campaign":
        _read_settings(table, source)
    else:
        source.texts[name] = table


def _read_settings(table: TextTable, source: Source) -> None:
    missing = [column for column in ("setting", "value") if column not in table.cells]
    source.report(
        [
            Problem(table.file, table.header_row, column, "", "missing column", mend)
            for column, mend in (
                ("setting", "add it: the names of the settings, such as title"),
                ("value", "add it: the values of the settings"),
            )
            if column in missing
        ]
    )
    if not missing:
        source.entries = {}
        for row, setting, value in zip(
            table.rows, table.cells["setting"], table.cells["value"], strict=True
        ):
            key = setting.lower()
            if key in source.entries:
                wrong = "the setting is given twice"
                problem = Problem(table.file, row, "setting", setting, wrong, "keep one of them")
                source.report([problem])
            source.entries.setdefault(key, Entry(value, row))
