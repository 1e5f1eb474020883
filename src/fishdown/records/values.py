"""From the text of a table to its values, each cell checked by itself.

Every cell is parsed from its text, as written, so that the problem can show it; its range is
checked there and then. A validation library would check the parsed frame once more, without the
text.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import pandas as pd

from fishdown.records.cells import CellError, parse, quoted
from fishdown.records.codes import Odd, Wrong
from fishdown.records.notation import ISO_DATES, ISO_DAY, Notation, day_of_style, styles_of
from fishdown.records.problems import Problem
from fishdown.records.synonyms import column_meant
from fishdown.records.tables import DTYPES, MISSING, MOST_FISH, TABLES
from fishdown.records.unread import meaning_of
from fishdown.records.us_columns import METRIC, us_field

if TYPE_CHECKING:
    from collections.abc import Mapping

    from fishdown.records.field import Field
    from fishdown.records.text import TextTable

_PLAIN = Notation()

# More wrong cells than this, and more than half of a column, are one error; so are fewer, if they
# are a whole column.
_FEW = 5
_WHOLE = 2
_FEWEST_SWAPPED = 3
_MONTHS = 12


def read_table(
    name: str, text: TextTable, notation: Notation = _PLAIN
) -> tuple[pd.DataFrame, list[Problem]]:
    """Read the values of one table and check each by itself.

    Parameters
    ----------
    notation : Notation, optional
        How the cells are written.

    Returns
    -------
    frame : pandas.DataFrame
        One row a row, all known columns and ``row``; a cell that is empty or wrong is missing
        (NaN, NaT, NA or the empty text). Counts are floats here, since they may be missing.
        A table with ``time`` also has ``local``, what a clock beside the lake showed.
    problems : list of Problem
        Every column and cell that is wrong.
    """
    fields = TABLES[name]
    problems = _column_problems(name, text, fields, notation.headings.get(name, {}))
    columns: dict[str, pd.Series[Any]] = {}
    for column, field in fields.items():
        cells = text.cells.get(column, [""] * len(text.rows))
        # A required column that is missing altogether is one problem, not one a row.
        values, found = _values(text, column, field, cells, notation, report=column in text.cells)
        if field.kind == "time":
            columns[column], columns["local"] = _moments(values)
        else:
            columns[column] = pd.Series(values, dtype=DTYPES[field.kind])
        if field.kind == "date" and (swapped := _swapped(text, column, notation)):
            problems += swapped
        else:
            problems += _gathered(found, cells)
    return pd.DataFrame(columns | {"row": pd.Series(text.rows, dtype="int64")}), problems


def _refuse_beyond(value: object, field: Field) -> None:
    """Refuse a number outside the range of its column."""
    if not isinstance(value, float):
        return
    if field.least is not None and value < field.least:
        if field.least == 0:
            raise CellError(Wrong.NEGATIVE_COUNT if field.kind == "count" else Wrong.NEGATIVE)
        raise CellError(Wrong.BELOW, least=f"{field.least:g}".replace("-", "−"))
    if field.most is not None and value > field.most:
        many = Wrong.MORE_FISH_THAN_A_LAKE_HOLDS
        raise CellError(many if field.most == MOST_FISH else Wrong.ABOVE, most=field.most)
    if field.within is None:
        return
    if value < 0 or (value == 0 and field.within.least > 0):
        raise CellError(Wrong.ZERO_OR_NEGATIVE if field.within.least > 0 else Wrong.NEGATIVE)
    if value < field.within.least:
        raise CellError(Wrong.IMPLAUSIBLY_SMALL)
    if value > field.within.most:
        raise CellError(Wrong.IMPLAUSIBLY_LARGE)


def _moments(values: list[Any]) -> tuple[pd.Series[Any], pd.Series[Any]]:
    """Return moments in universal time, and what a clock beside the lake showed."""
    # Offsets are few; taking each from the stamps at once is faster than one by one.
    away = [None if value is pd.NaT else value.utcoffset() for value in values]
    shown = pd.Series(
        [value if value is pd.NaT else value.replace(tzinfo=None) for value in values],
        dtype=DTYPES["date"],
    )
    offsets = pd.Series(away, dtype="timedelta64[us]")
    return (shown - offsets).dt.tz_localize("UTC"), shown


def _values(
    text: TextTable,
    column: str,
    field: Field,
    cells: list[str],
    notation: Notation,
    *,
    report: bool,
) -> tuple[list[Any], list[Problem]]:
    values, problems = [], []
    unit = text.us.get(column)
    if unit is not None:
        field = us_field(column, field)
    # An antenna writes the same few names half a million times.
    known: dict[str, object] = {}
    for row, cell in zip(text.rows, cells, strict=True):
        value = MISSING[field.kind]
        if cell in known:
            value = known[cell]
        elif cell:
            try:
                parsed = parse(cell, field.kind, notation)
                _refuse_beyond(parsed, field)
                value = unit.to_metric(parsed) if unit and isinstance(parsed, float) else parsed
                if field.kind != "time":
                    known[cell] = value
            except CellError as error:
                problems.append(error.at(text.file, row, column, cell, advice=_advice(field)))
        elif field.required and report:
            said = {"advice": _advice(field)}
            problems.append(Problem(Wrong.EMPTY_CELL, text.file, row, column, values=said))
        values.append(value)
    return values, problems


def _gathered(problems: list[Problem], cells: list[str]) -> list[Problem]:
    """Make one problem of an error throughout a column, such as the form of its dates."""
    alike: dict[str, list[Problem]] = {}
    for problem in problems:
        alike.setdefault(problem.wrong, []).append(problem)
    written = sum(1 for cell in cells if cell)
    gathered = []
    for group in alike.values():
        whole = _WHOLE <= len(group) == written
        if not whole and (len(group) <= _FEW or len(group) <= written / 2):
            gathered += group
            continue
        values = {**group[0].values, "throughout": [problem.row for problem in group]}
        if group[0].code is Wrong.OTHER_DATE_STYLE:
            # One date may be of several styles; the column tells which.
            styles = styles_of(problem.cell for problem in group)
            values["styles"] = quoted(styles) if styles else values["styles"]
        gathered.append(replace(group[0], values=values))
    return gathered


def _swapped(text: TextTable, column: str, notation: Notation) -> list[Problem]:
    """Find dates of which a spreadsheet program has taken some for others, day for month.

    It turns what it understands into a date of its own, and leaves as text what would be a day of
    the month in place of a month.
    """
    written = text.cells.get(column, [""] * len(text.rows))
    cells = [(row, cell) for row, cell in zip(text.rows, written, strict=True) if cell]
    others = [(row, cell) for row, cell in cells if not ISO_DAY.fullmatch(cell)]
    if not others:
        return []
    plain = [cell for _, cell in cells if ISO_DAY.fullmatch(cell)]
    # A style of which every text is a day; beyond 12 one of its parts can be the day only.
    styles = [notation.dates] if notation.dates != ISO_DATES else styles_of(c for _, c in others)
    style = styles[0] if styles else ""
    days = [day.day for _, cell in others if (day := day_of_style(cell, style))]
    if ISO_DATES in styles or min(len(plain), len(days)) < _FEWEST_SWAPPED or min(days) <= _MONTHS:
        return []
    if any(int(cell[-2:]) > _MONTHS for cell in plain):
        return []
    rows, cell = [row for row, _ in others], others[0][1]
    said = {"style": style, "throughout": rows}
    return [Problem(Wrong.DATES_IN_TWO_STYLES, text.file, rows[0], column, cell, said)]


def _column_problems(
    table: str, text: TextTable, fields: Mapping[str, Field], headings: Mapping[str, str]
) -> list[Problem]:
    problems = [
        Problem(
            Wrong.MISSING_COLUMN,
            text.file,
            text.header_row,
            column,
            values={"what": field.what, "heading": f"headings.{table}.{column}"},
        )
        for column, field in fields.items()
        # A heading of the crew's own that is not there is a problem of the settings.
        if field.required
        and column not in text.cells
        and column not in {METRIC.get(name, name) for name in headings}
    ]
    for column in text.cells:
        # A column that may contradict the counts has rules of its own.
        if column not in fields and meaning_of(table, column) is None:
            like = column_meant(column, (name for name in fields if name not in text.cells))
            setting = f'headings.{table}.{like} = "{column}"'
            said = {"like": like, "known": list(fields), "setting": setting}
            unknown = Problem(Odd.UNKNOWN_COLUMN, text.file, text.header_row, column, values=said)
            problems.append(unknown)
    return problems


def _advice(field: Field) -> str:
    return f"write {field.what}" + ("" if field.required else ", or leave the cell empty")
