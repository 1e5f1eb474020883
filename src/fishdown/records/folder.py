"""Read the files of a campaign's folder as text."""

from __future__ import annotations

import hashlib
from collections import defaultdict
from typing import TYPE_CHECKING

from fishdown.records.csv_text import csv_lines
from fishdown.records.plain_file import UnreadableError, as_text, read_plain
from fishdown.records.problems import Problem
from fishdown.records.settings import toml_entries
from fishdown.records.source import Source, unexpected
from fishdown.records.tables import REQUIRED_TABLES, TABLES
from fishdown.records.text import text_table

if TYPE_CHECKING:
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
    source = Source({})
    try:
        entries = sorted(place.iterdir())
    except OSError as error:
        wrong = f"the folder cannot be opened ({(error.strerror or 'the system refuses').lower()})"
        mend = "ask its owner, or the system's administrator, for the right to read it"
        source.report([Problem(str(place), None, None, "", wrong, mend)])
        return source
    present: dict[str, list[Path]] = defaultdict(list)
    for entry in entries:
        present[entry.name.lower()].append(entry)
    known = {"campaign": SETTINGS_FILE} | {name: f"{name}.csv" for name in TABLES}
    # A file called Pulls.csv is the table of pulls on any system.
    source.files = {
        name: present[file][0].name if file in present else file for name, file in known.items()
    }
    if not any(file in present for file in known.values()):
        wrong = f"the folder has neither {SETTINGS_FILE} nor any table of a campaign"
        mend = f"name the folder that holds {SETTINGS_FILE}, lakes.csv and pulls.csv"
        source.report([Problem(str(place), None, None, "", wrong, mend)])
        return source

    if SETTINGS_FILE not in present:
        mend = "add it, with the lines title and species"
        source.report([Problem(SETTINGS_FILE, None, None, "", "missing file", mend)])
    elif (text := _only_text(present[SETTINGS_FILE], source)) is not None:
        source.entries, problems = toml_entries(source.files["campaign"], text)
        source.report(problems)
    for name in TABLES:
        if known[name] in present:
            _read_csv(name, present[known[name]], source)
        elif name in REQUIRED_TABLES:
            source.unreadable.add(name)
            mend = f"add it, with the columns {_required_columns(name)}"
            source.report([Problem(known[name], None, None, "", "missing file", mend)])
    for lower, unknown in present.items():
        if lower.endswith(".csv") and not lower.startswith(".") and lower not in known.values():
            source.report(
                [
                    unexpected(entry.name, lower, list(known.values())[1:], "file")
                    for entry in unknown
                ]
            )
    return source


def _read_csv(name: str, entries: list[Path], source: Source) -> None:
    text = _only_text(entries, source)
    table = None
    if text is not None:
        file = source.files[name]
        try:
            table, problems = text_table(file, csv_lines(text))
        except UnreadableError as error:
            problems = [Problem(file, error.row, None, "", error.wrong, error.mend)]
        source.report(problems)
    if table is None:
        source.unreadable.add(name)
    else:
        source.texts[name] = table


def _only_text(entries: list[Path], source: Source) -> str | None:
    """Read the one file of a name, written in whatever case; None if it cannot be."""
    file = entries[0].name
    if len(entries) > 1:
        names = " and ".join(entry.name for entry in entries)
        wrong = f"the folder has {names}, which are the same table"
        source.report([Problem(file, None, None, "", wrong, "keep one of them")])
        return None
    try:
        content = read_plain(entries[0])
        source.hashes[file] = hashlib.sha256(content).hexdigest()
        return as_text(content)
    except UnreadableError as error:
        source.report([Problem(file, error.row, None, "", error.wrong, error.mend)])
        return None


def _required_columns(name: str) -> str:
    return ", ".join(column for column, field in TABLES[name].items() if field.required)
