"""Read the files of a campaign's folder as text."""

from __future__ import annotations

import hashlib
from collections import defaultdict
from typing import TYPE_CHECKING

from fishdown.records.codes import Wrong
from fishdown.records.csv_text import csv_lines, separator_of
from fishdown.records.layout import as_name
from fishdown.records.plain_file import UnreadableError, as_text, read_plain, said_by_system
from fishdown.records.settings import entries_tried, notation_written, set_up, toml_entries
from fishdown.records.source import Source
from fishdown.records.tables import REQUIRED_TABLES, TABLES, required_columns
from fishdown.records.us_columns import with_us_names

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

SETTINGS_FILE = "campaign.toml"


def open_folder(place: Path, tried: Mapping[str, str]) -> Source:
    """Read all files of a folder as text.

    Parameters
    ----------
    tried : mapping of str to str
        Settings to read them with besides their own.
    """
    source = Source({}, notation=notation_written(entries_tried(tried)))
    try:
        entries = sorted(place.iterdir())
    except OSError as error:
        source.report(Wrong.FOLDER_REFUSED, str(place), said=said_by_system(error))
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
        source.report(Wrong.NO_TABLES, str(place))
        return source

    if SETTINGS_FILE not in present:
        source.report(Wrong.MISSING_TABLE, SETTINGS_FILE, kind="file")
    elif (text := _only_text(present[SETTINGS_FILE], source)) is not None:
        try:
            set_up(source, toml_entries(text), tried)
        except UnreadableError as error:
            source.problems.append(error.at(source.files["campaign"]))
    for name in TABLES:
        if known[name] in present:
            _read_csv(name, present[known[name]], source)
        elif name in REQUIRED_TABLES:
            source.unreadable.add(name)
            columns = required_columns(name)
            source.report(Wrong.MISSING_TABLE, known[name], kind="file", columns=columns)
    for lower, unknown in present.items():
        if lower.endswith(".csv") and not lower.startswith(".") and lower not in known.values():
            for entry in unknown:
                source.report_unknown(entry.name, lower, list(known.values())[1:], "file")
    return source


def _read_csv(name: str, entries: list[Path], source: Source) -> None:
    text = _only_text(entries, source)
    if text is None:
        source.unreadable.add(name)
    else:
        headings = source.notation.headings.get(name, {}).values()
        known = {*with_us_names(TABLES[name]), *map(as_name, headings)}
        separator = separator_of(text, known)
        source.table(name, csv_lines(text, separator), TABLES[name])


def _only_text(entries: list[Path], source: Source) -> str | None:
    """Read the one file of a name, written in whatever case; None if it cannot be."""
    file = entries[0].name
    if len(entries) > 1:
        names = " and ".join(entry.name for entry in entries)
        source.report(Wrong.TABLE_TWICE, file, names=names)
        return None
    try:
        content = read_plain(entries[0])
        source.hashes[file] = hashlib.sha256(content).hexdigest()
        return as_text(content)
    except UnreadableError as error:
        source.problems.append(error.at(file))
        return None
