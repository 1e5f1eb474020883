"""A crew's own headings: settings such as ``headings.pulls.caught = "Carp"``."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fishdown.records.codes import Wrong
from fishdown.records.layout import as_name
from fishdown.records.problems import Problem, nearest
from fishdown.records.tables import TABLES
from fishdown.records.us_columns import METRIC, with_us_names

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from fishdown.records.entry import Entry
    from fishdown.records.source import Source

HEADINGS = "headings"


def flat(name: str, value: object) -> Iterator[tuple[str, object]]:
    """Yield the settings within a table of headings by their names with points."""
    if isinstance(value, dict) and value:
        for inner, one in value.items():
            yield from flat(f"{name}.{inner}", one)
    else:
        yield name, value


def on_headings(name: str) -> bool:
    """Return whether a setting is one on headings, well formed or not."""
    return name.partition(".")[0] == HEADINGS


def headings_written(entries: Mapping[str, Entry]) -> dict[str, dict[str, str]]:
    """Return table to column to the crew's own heading of it.

    Settings on headings that cannot be understood are left out.
    """
    headings: dict[str, dict[str, str]] = {}
    for name, entry in entries.items():
        table, column = _place(name)
        if column and isinstance(entry.value, str) and entry.value.strip():
            headings.setdefault(table, {})[column] = entry.value.strip()
    return headings


def heading_problems(file: str, entries: Mapping[str, Entry]) -> Iterator[Problem]:
    """Find settings on headings that name no table, no column or no heading."""
    of: dict[tuple[str, str], str] = {}
    for name, entry in entries.items():
        if not on_headings(name):
            continue
        place = (file, entry.row, name)
        table, column = _place(name)
        shown = "" if isinstance(entry.value, dict) else str(entry.value)
        if not column:
            yield Problem(Wrong.HEADINGS_MISPLACED, *place, shown)
        elif table not in TABLES:
            said = {"table": table, "like": nearest(table, TABLES), "known": list(TABLES)}
            yield Problem(Wrong.HEADING_OF_UNKNOWN_TABLE, *place, shown, said)
        elif column not in (known := _columns(table)):
            said = {"table": table, "column": column, "like": nearest(column, known)}
            yield Problem(Wrong.HEADING_OF_UNKNOWN_COLUMN, *place, shown, said | {"known": known})
        elif not isinstance(entry.value, str) or not entry.value.strip():
            said = {"advice": f'write the heading in quotation marks, such as "{column}"'}
            yield Problem(Wrong.NOT_TEXT, *place, shown, said)
        else:
            other = of.setdefault((table, as_name(entry.value)), column)
            if other != column:
                yield Problem(Wrong.HEADING_TWICE, *place, shown, {"other": other})


def absent_headings(source: Source) -> Iterator[Problem]:
    """Find headings of the crew's own that their table does not have, or has beside ours."""
    for name, entry in (source.entries or {}).items():
        table, column = _place(name)
        text = source.texts.get(table)
        if text is None or column not in _columns(table) or not isinstance(entry.value, str):
            continue
        place = (source.files["campaign"], entry.row, name, entry.value)
        ours = METRIC.get(column, column)
        if entry.value.strip() and ours not in text.headings:
            if as_name(entry.value) == ours and ours in text.cells:
                continue
            found = list(text.cells)
            like = nearest(as_name(entry.value), found)
            said = {"file": text.file, "like": like, "found": found}
            yield Problem(Wrong.HEADING_ABSENT, *place, said)


def _columns(table: str) -> list[str]:
    return with_us_names(TABLES[table])


def _place(name: str) -> tuple[str, str]:
    """Return table and column of a setting on headings; empty if it has not both."""
    first, _, rest = name.partition(".")
    table, _, column = rest.partition(".")
    return (table, column) if first == HEADINGS and table and "." not in column else ("", "")
