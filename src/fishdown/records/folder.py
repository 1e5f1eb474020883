"""Read the files of a campaign's folder as text."""

from __future__ import annotations

import csv
import hashlib
import io
from typing import TYPE_CHECKING

from fishdown.records.problems import Problem
from fishdown.records.settings import toml_entries
from fishdown.records.source import Source, unexpected
from fishdown.records.tables import REQUIRED_TABLES, TABLES
from fishdown.records.text import text_table

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

SETTINGS_FILE = "campaign.toml"


def open_folder(place: Path) -> Source:
    """Read all files of a folder as text.

    Parameters
    ----------
    place : pathlib.Path
        The folder.

    Returns
    -------
    Source
        What was found, with every problem of its files.
    """
    present = {entry.name.lower(): entry for entry in sorted(place.iterdir()) if entry.is_file()}
    known = {"campaign": SETTINGS_FILE} | {name: f"{name}.csv" for name in TABLES}
    # A file called Pulls.csv is the table of pulls on any system.
    files = {name: present[file].name if file in present else file for name, file in known.items()}
    source = Source(files)
    if not any(file in present for file in known.values()):
        wrong = f"the folder has neither {SETTINGS_FILE} nor any table of a campaign"
        mend = f"name the folder that holds {SETTINGS_FILE}, lakes.csv and pulls.csv"
        source.report([Problem(str(place), None, None, "", wrong, mend)])
        return source

    if SETTINGS_FILE in present:
        settings = _text_of(present[SETTINGS_FILE], source)
        if settings is not None:
            source.entries, problems = toml_entries(files["campaign"], settings)
            source.report(problems)
    else:
        mend = "add it, with the lines title and species"
        source.report([Problem(SETTINGS_FILE, None, None, "", "missing file", mend)])
    for name in TABLES:
        if known[name] in present:
            _read_csv(name, present[known[name]], source)
        elif name in REQUIRED_TABLES:
            source.unreadable.add(name)
            mend = f"add it, with the columns {_required_columns(name)}"
            source.report([Problem(known[name], None, None, "", "missing file", mend)])
    for lower, entry in present.items():
        if lower.endswith(".csv") and not lower.startswith(".") and lower not in known.values():
            source.report([unexpected(entry.name, lower, list(known.values())[1:], "file")])
    return source


def _read_csv(name: str, entry: Path, source: Source) -> None:
    text = _text_of(entry, source)
    table = None
    if text is not None:
        try:
            table, problems = text_table(entry.name, _csv_lines(text))
        except _BadCsvError as error:
            problems = [Problem(entry.name, error.row, None, "", error.wrong, error.mend)]
        source.report(problems)
    if table is None:
        source.unreadable.add(name)
    else:
        source.texts[name] = table


def _text_of(entry: Path, source: Source) -> str | None:
    try:
        content = entry.read_bytes()
    except OSError as error:
        wrong = f"cannot be opened ({(error.strerror or 'unknown reason').lower()})"
        mend = "close it in other programs and check your rights"
        source.report([Problem(entry.name, None, None, "", wrong, mend)])
        return None
    source.hashes[entry.name] = hashlib.sha256(content).hexdigest()
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        row = content.count(b"\n", 0, error.start) + 1
        wrong = "a character that is not UTF-8"
        mend = 'save the file again in the encoding UTF-8 (in a spreadsheet: "CSV UTF-8")'
        source.report([Problem(entry.name, row, None, "", wrong, mend)])
        return None


class _BadCsvError(ValueError):
    """The text cannot be cut into lines and cells."""

    def __init__(self, row: int, wrong: str, mend: str) -> None:
        super().__init__(wrong)
        self.row = row
        self.wrong = wrong
        self.mend = mend


def _csv_lines(text: str) -> Iterator[tuple[int, list[str]]]:
    """Yield each record with the line it begins on (a quoted cell may span lines)."""
    reader = csv.reader(io.StringIO(text, newline=""), strict=True)
    row = 1
    try:
        for line in reader:
            yield row, line
            row = reader.line_num + 1
    except csv.Error:
        wrong = "quotation marks that do not close, or a character that is no text"
        mend = "put quotation marks around whole cells only, and close them"
        raise _BadCsvError(row, wrong, mend) from None


def _required_columns(name: str) -> str:
    return ", ".join(column for column, field in TABLES[name].items() if field.required)
