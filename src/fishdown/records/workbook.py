"""Read the sheets of an .xlsx workbook as if they were CSV files."""

from __future__ import annotations

import hashlib
import io
import warnings
from collections import defaultdict
from typing import TYPE_CHECKING, Any
from zipfile import ZIP_DEFLATED, ZIP_STORED, ZipFile

from fishdown.records.codes import Wrong
from fishdown.records.entry import Entry
from fishdown.records.field import Field
from fishdown.records.plain_file import UnreadableError, read_plain
from fishdown.records.problems import Problem, printable
from fishdown.records.settings import entries_tried, notation_written, set_up
from fishdown.records.source import Source
from fishdown.records.tables import REQUIRED_TABLES, TABLES, required_columns
from fishdown.records.toml_text import read_toml

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from fishdown.records.text import TextTable

# Where an older format, or a workbook with a password, begins.
_OLD_OR_LOCKED = b"\xd0\xcf\x11\xe0"
_SETTINGS = {
    "setting": Field("text", "the names of the settings, such as title", required=True),
    "value": Field("text", "the values of the settings"),
}
# Half a million pulls unpack to a tenth of this; an archive can be made to unpack to anything.
_MOST_BYTES = 1_000_000_000


def open_workbook(place: Path, tried: Mapping[str, str]) -> Source:
    """Read all sheets of a workbook as text.

    Parameters
    ----------
    tried : mapping of str to str
        Settings to read it with besides its own.
    """
    known = ["campaign", *TABLES]
    files = {name: f"{place.name}, sheet {name}" for name in known}
    source = Source(files, notation=notation_written(entries_tried(tried)), workbook=True)
    try:
        content = read_plain(place)
        book, lost = _opened(content)
    except UnreadableError as error:
        source.problems.append(error.at(place.name))
        source.unreadable.update(TABLES)
        return source
    source.hashes[printable(place.name)] = hashlib.sha256(content).hexdigest()
    sheets: dict[str, list[Any]] = defaultdict(list)
    for sheet in book.worksheets:
        sheets[sheet.title.strip().lower()].append(sheet)
    for title in lost:
        source.report(Wrong.SHEET_LACKING, f"{place.name}, sheet {title}")
        source.unreadable.add(title.strip().lower())
    for name in known:
        if len(sheets[name]) == 1:
            source.files[name] = f"{place.name}, sheet {sheets[name][0].title}"
            table = _read_sheet(name, book, sheets[name][0], source)
            if name == "campaign" and table is not None:
                _read_settings(table, source, tried)
        elif sheets[name]:
            source.unreadable.add(name)
            titles = " and ".join(f'"{sheet.title}"' for sheet in sheets[name])
            file, count = source.files[name], len(sheets[name])
            source.report(Wrong.SHEET_TWICE, file, sheets=count, titles=titles)
        elif name in ("campaign", *REQUIRED_TABLES) and name not in source.unreadable:
            source.unreadable.add(name)
            said = {"columns": required_columns(name)} if name in TABLES else {"settings": True}
            source.report(Wrong.MISSING_TABLE, source.files[name], kind="sheet", **said)
    for lower, unknown in sheets.items():
        if lower not in known:
            for sheet in unknown:
                file = f"{place.name}, sheet {sheet.title}"
                source.report_unknown(file, lower, known, "sheet")
    return source


def _opened(content: bytes) -> tuple[Any, list[str]]:
    """Open a workbook for reading; also return the titles of sheets that it lacks."""
    from openpyxl.reader.excel import ExcelReader

    if content.startswith(_OLD_OR_LOCKED):
        raise UnreadableError(Wrong.WORKBOOK_LOCKED, old=True)
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
        raise UnreadableError(Wrong.WORKBOOK_DAMAGED) from error
    found = {sheet.title for sheet in reader.wb._sheets}
    listed = [str(sheet.name) for sheet in reader.parser.sheets]
    return reader.wb, [title for title in listed if title not in found]


def _refuse(archive: ZipFile) -> None:
    parts = archive.infolist()
    if any(part.flag_bits & 1 for part in parts):
        raise UnreadableError(Wrong.WORKBOOK_LOCKED)
    if any(part.compress_type not in (ZIP_STORED, ZIP_DEFLATED) for part in parts):
        raise UnreadableError(Wrong.WORKBOOK_PACKING)
    size, most = sum(part.file_size for part in parts) / 1e9, _MOST_BYTES / 1e9
    if size > most:
        raise UnreadableError(Wrong.WORKBOOK_TOO_LARGE, gigabytes=size, most=most)


def _read_sheet(name: str, book: Any, sheet: Any, source: Source) -> TextTable | None:
    from fishdown.records.sheet import read_sheet

    fields = _SETTINGS if name == "campaign" else TABLES[name]
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            lines, merged = read_sheet(book, sheet, source.notation)
    except UnreadableError as error:
        source.problems.append(error.at(source.files[name]))
        source.unreadable.add(name)
        return None
    return source.table(name, lines, fields, merged)


def _read_settings(table: TextTable, source: Source, tried: Mapping[str, str]) -> None:
    missing = [
        Problem(
            Wrong.MISSING_COLUMN, table.file, table.header_row, column, values={"what": field.what}
        )
        for column, field in _SETTINGS.items()
        if column not in table.cells
    ]
    source.problems += missing
    if missing:
        return
    entries: dict[str, Entry] = {}
    columns = table.rows, table.cells["setting"], table.cells["value"]
    for row, setting, value in zip(*columns, strict=True):
        setting, value = _whole_line(setting) if not value else (setting, value)
        key = setting.lower()
        if key in entries:
            twice = Problem(Wrong.SETTING_TWICE, table.file, row, "setting", setting)
            source.problems.append(twice)
        entries.setdefault(key, Entry(value, row))
    set_up(source, entries, tried)


def _whole_line(cell: str) -> tuple[str, str]:
    """Return setting and value of a line that stands whole in one cell, as it was pasted."""
    setting, _, value = cell.partition("=")
    try:
        said = read_toml(f"value ={value}")["value"]
    except UnreadableError:
        said = value.strip()
    return setting.strip(), said if isinstance(said, str) else value.strip()
