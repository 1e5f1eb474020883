"""Read the sheets of an .xlsx workbook as if they were CSV files."""

from __future__ import annotations

import hashlib
import io
import warnings
from datetime import datetime, time
from typing import TYPE_CHECKING, Any
from zipfile import BadZipFile

from fishdown.records.problems import Problem
from fishdown.records.settings import Entry
from fishdown.records.source import Source, unexpected
from fishdown.records.tables import REQUIRED_TABLES, TABLES
from fishdown.records.text import text_table

if TYPE_CHECKING:
    from pathlib import Path


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
    from openpyxl import load_workbook

    source = Source({name: f"{place.name}, sheet {name}" for name in ("campaign", *TABLES)})
    try:
        content = place.read_bytes()
        with warnings.catch_warnings():
            # It warns of form elements that it cannot keep; we only read values.
            warnings.simplefilter("ignore")
            book = load_workbook(io.BytesIO(content), read_only=True, data_only=True)
            sheets = {sheet.title: _lines(sheet) for sheet in book.worksheets}
    except (OSError, BadZipFile, KeyError, ValueError) as error:
        wrong = "cannot be read as a workbook"
        if isinstance(error, OSError) and error.strerror:
            wrong = f"cannot be opened ({error.strerror.lower()})"
        mend = "open it in a spreadsheet program and save it again as .xlsx"
        source.report([Problem(place.name, None, None, "", wrong, mend)])
        source.unreadable.update(TABLES)
        return source
    source.hashes[place.name] = hashlib.sha256(content).hexdigest()
    known = ["campaign", *TABLES]
    found = {title.strip().lower(): title for title in sheets}
    for name in known:
        if name in found:
            source.files[name] = f"{place.name}, sheet {found[name]}"
            _read_sheet(name, sheets[found[name]], source)
        elif name in ("campaign", *REQUIRED_TABLES):
            source.unreadable.add(name)
            columns = [column for column, field in TABLES.get(name, {}).items() if field.required]
            mend = f"add it, with the columns {', '.join(columns or ['setting', 'value'])}"
            file = source.files[name]
            source.report([Problem(file, None, None, "", "missing sheet", mend)])
    for lower, title in found.items():
        if lower not in known:
            source.report([unexpected(f"{place.name}, sheet {title}", lower, known, "sheet")])
    return source


def _read_sheet(name: str, lines: list[tuple[int, list[str]]], source: Source) -> None:
    table, problems = text_table(source.files[name], lines)
    source.report(problems)
    if name != "campaign":
        if table is None:
            source.unreadable.add(name)
        else:
            source.texts[name] = table
        return
    if table is None:
        return
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


def _lines(sheet: Any) -> list[tuple[int, list[str]]]:
    """Cells of a sheet as text; rows are padded, since a sheet has no ragged rows."""
    sheet.reset_dimensions()
    lines = [[_cell(value) for value in row] for row in sheet.iter_rows(values_only=True)]
    width = max(map(len, lines), default=0)
    return [(row, line + [""] * (width - len(line))) for row, line in enumerate(lines, 1)]


def _cell(value: object) -> str:
    """Write a cell as a person would write it in a CSV file."""
    match value:
        case None:
            return ""
        case bool():
            return "yes" if value else "no"
        case float() if value.is_integer():
            return str(int(value))
        case datetime() if value.time() == time():
            return value.date().isoformat()
        case datetime():
            return value.isoformat()
        case _:
            return str(value).strip()
