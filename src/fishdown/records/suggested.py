"""Settings that would settle what is wrong with headings, units, dates and decimals, all at once.

They are tried before they are suggested: the records are read again with them, and what is then
left is known.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

from fishdown.records.cells import CellError, parse
from fishdown.records.codes import Odd, Wrong
from fishdown.records.draft import read_draft
from fishdown.records.notation import ISO_DATES, ISO_DAY, styles_of
from fishdown.records.reader import open_source
from fishdown.records.rules import broken_rules
from fishdown.records.synonyms import columns_meant
from fishdown.records.tables import TABLES
from fishdown.records.us_columns import us_name

if TYPE_CHECKING:
    import os
    from collections.abc import Iterable, Mapping, Sequence

    from fishdown.records.problems import Problem
    from fishdown.records.source import Source

# One reading may show what another heading hid; more rounds than this find nothing more.
_ROUNDS = 4
# What settings can settle.
_ON_NOTATION = {
    Wrong.MISSING_COLUMN, Wrong.NO_COLUMN_OF_SIZES, Wrong.OTHER_DATE_STYLE,
    Wrong.DECIMAL_COMMA, Wrong.ABOVE, Odd.UNKNOWN_COLUMN
}  # fmt: skip
# Water in °F that is below 40 °C is nearly ice; none is above the second (°F).
_COLDEST_F, _WARMEST_F = 32.0, 104.0
_WATER = "water_temp_c"
# No column is called by more letters.
_LONGEST = 60


@dataclass(frozen=True)
class Suggested:
    """Settings to copy, and what they leave.

    Attributes
    ----------
    settings : mapping of str to str
        Name to value.
    left : tuple of Problem
        The errors that are there with them.
    workbook : bool
        Whether they belong into a sheet.
    """

    settings: Mapping[str, str]
    left: tuple[Problem, ...]
    workbook: bool

    @property
    def lines(self) -> list[str]:
        """The lines to copy, of campaign.toml or of the column ``setting`` of the sheet."""
        return [f"{name} = {_quoted(value)}" for name, value in self.settings.items()]


def suggested_settings(path: str | os.PathLike[str], found: Sequence[Problem]) -> Suggested | None:
    """Find settings that settle what is wrong with the notation of a campaign.

    Parameters
    ----------
    path : str or path-like
        As for `fishdown.records.read_records`.
    found : sequence of Problem
        What reading it has found.

    Returns
    -------
    Suggested or None
        None if no setting would settle anything.
    """
    if not any(problem.code in _ON_NOTATION for problem in found):
        return None
    tried: dict[str, str] = {}
    settings, best = tried, list(found)
    source = open_source(path)
    for _ in range(_ROUNDS):
        more = _further(source)
        if not more.items() - tried.items():
            break
        # A column may turn out to be in °F only once its heading is understood.
        tried = _merged(tried, more)
        source = open_source(path, tried)
        now = _problems(source)
        if _weight(now) < _weight(best):
            settings, best = tried, now
    if not settings:
        return None
    left = tuple(problem for problem in best if problem.severity == "error")
    return Suggested(settings, left, source.workbook)


def _weight(problems: Sequence[Problem]) -> tuple[int, int]:
    """Return how bad problems are: a table whose columns are read may show many cells anew."""
    columns = sum(problem.code in _ON_NOTATION for problem in problems)
    return columns, len(problems)


def _problems(source: Source) -> list[Problem]:
    draft, found = read_draft(source)
    found = [*source.problems, *found]
    found += broken_rules(draft, found)
    return [source.as_headed(problem) for problem in found]


def _merged(settings: Mapping[str, str], more: Mapping[str, str]) -> dict[str, str]:
    """Add settings; a heading that is now of another column is no longer of the first."""
    taken = {(name.rpartition(".")[0], value) for name, value in more.items()}
    kept = {
        name: value
        for name, value in settings.items()
        if name in more or (name.rpartition(".")[0], value) not in taken
    }
    return {**kept, **more}


def _further(source: Source) -> dict[str, str]:
    """Return the settings that a reading suggests."""
    found: dict[str, str] = {}
    for table, text in source.texts.items():
        written = {name: text.written.get(name, name) for name in text.cells}
        # What begins with a digit is a cell of a table without a header.
        if any(heading[:1].isdigit() for heading in written.values()):
            continue
        unknown = [
            name
            for name, heading in written.items()
            if name not in TABLES[table] and heading.isprintable() and len(name) <= _LONGEST
        ]
        open_columns = [name for name in TABLES[table] if name not in text.cells]
        for heading, column in columns_meant(unknown, open_columns, table).items():
            found[f"headings.{table}.{column}"] = written[heading]
        if (
            table == "pulls"
            and _WATER not in text.us
            and _in_fahrenheit(text.cells.get(_WATER, ()))
        ):
            heading = text.headings.get(_WATER, _WATER)
            found[f"headings.{table}.{us_name(_WATER)}"] = heading
    if source.notation.dates == ISO_DATES:
        styles = styles_of(others) if (others := list(_other_dates(source))) else []
        if len(styles) == 1:
            found["dates"] = styles[0]
    if source.notation.decimal == "point" and _decimal_commas(source):
        found["decimal"] = "comma"
    return found


def _in_fahrenheit(cells: Iterable[str]) -> bool:
    """Return whether most readings are above what water can have in °C, and all fit °F."""
    readings = []
    for cell in cells:
        try:
            if cell:
                readings.append(float(str(parse(cell, "number"))))
        except CellError:
            return False
    most = TABLES["pulls"][_WATER].most or 0.0
    return sum(reading > most for reading in readings) * 2 > len(readings) and all(
        _COLDEST_F <= reading <= _WARMEST_F for reading in readings
    )


def _other_dates(source: Source) -> Iterable[str]:
    for table, text in source.texts.items():
        for column, field in TABLES[table].items():
            if field.kind == "date":
                for cell in dict.fromkeys(text.cells.get(column, ())):
                    if cell and not ISO_DAY.fullmatch(cell):
                        yield cell


def _decimal_commas(source: Source) -> bool:
    """Return whether numbers have decimal commas, and none a decimal point."""
    cells = {
        cell
        for table, text in source.texts.items()
        for column, field in TABLES[table].items()
        if field.kind == "number"
        for cell in text.cells.get(column, ())
    }
    commas = any(re.fullmatch(r"-?\d+,\d+", cell, re.ASCII) for cell in cells)
    return commas and not any(re.fullmatch(r"-?\d+\.\d+", cell, re.ASCII) for cell in cells)


def _quoted(value: str) -> str:
    escaped = value.replace("\\", "\\\\").replace('"', '\\"')
    return f'"{escaped}"'
