"""Pulls to come from a CSV file: date, lake, net and perhaps the water temperature."""

from __future__ import annotations

import math
from pathlib import Path
from typing import TYPE_CHECKING, Any, cast

from fishdown.decisions.codes import MisfitError, PlanCode
from fishdown.decisions.schedule import (
    MOST_PULLS,
    Schedule,
    check_day,
    check_temperature,
    last_days,
    ordered,
)
from fishdown.errors import PlanError
from fishdown.records.cells import CellError, Kind, parse
from fishdown.records.codes import Wrong
from fishdown.records.csv_text import csv_lines, separator_of
from fishdown.records.field import Field
from fishdown.records.plain_file import UnreadableError, as_text, read_plain
from fishdown.records.problems import Problem, listed, nearest
from fishdown.records.text import TextTable, text_table
from fishdown.records.us_columns import with_us_names
from fishdown.units import shown_in
from fishdown.words import counted

if TYPE_CHECKING:
    import os

    import numpy as np

    from fishdown.campaign import Campaign

# column → what it holds, whether it must be filled, and what to write
COLUMNS: dict[str, tuple[Kind, bool, str]] = {
    "date": ("date", True, "write the day as 2025-06-10"),
    "lake": ("text", True, "write the name of a lake as in the records"),
    "net": ("text", True, "write the name of a net; a new one is taken as unknown"),
    "water_temp_c": ("number", False, "write °C with a point, or leave it empty"),
}


def read_pulls_ahead(path: str | os.PathLike[str], campaign: Campaign) -> dict[str, Schedule]:
    """Read pulls to come from a CSV file.

    Parameters
    ----------
    path : str or path
        With the columns date, lake and net, and perhaps water_temp_c (°C, may be empty).
    campaign : Campaign
        That is continued.

    Returns
    -------
    dict of str to Schedule
        Lake to its pulls, in the order of the campaign's lakes.

    Raises
    ------
    PlanError
        If the file has problems; every problem is listed.
    """
    file = Path(path)
    table, problems = _table(file)
    rows: dict[str, list[tuple[Any, str, float]]] = {}
    if table is not None and not problems:
        lakes = last_days(campaign)
        for place, row in enumerate(table.rows):
            values, wrong = _values(table, place, row)
            if not wrong:
                wrong = _misfits(table, place, row, values, lakes)
            problems += wrong
            if not wrong:
                celsius = values.get("water_temp_c", math.nan)
                rows.setdefault(values["lake"], []).append((values["date"], values["net"], celsius))
        if not problems and not 1 <= len(table.rows) <= MOST_PULLS:
            said = {"pulls": len(table.rows), "most": MOST_PULLS}
            problems.append(Problem(PlanCode.PULLS, table.file, values=said))
    errors = sorted(problem for problem in problems if problem.severity == "error")
    if errors:
        lines = "\n".join(f"  {line}" for line in listed(errors))
        raise PlanError(f"{counted(len(errors), 'problem')} in the plan:\n{lines}")
    return {lake: ordered(rows[lake]) for lake in last_days(campaign) if lake in rows}


def _table(file: Path) -> tuple[TextTable | None, list[Problem]]:
    try:
        text = as_text(read_plain(file))
        lines = csv_lines(text, separator_of(text, set(with_us_names(COLUMNS))))
        fields = {
            name: Field(kind, what, required) for name, (kind, required, what) in COLUMNS.items()
        }
        table, problems = text_table(file.name, lines, fields)
    except UnreadableError as error:
        return None, [error.at(str(file))]
    problems = [problem for problem in problems if problem.severity == "error"]
    if table is None:
        return None, problems
    for name, (_, required, _) in COLUMNS.items():
        if required and name not in table.cells:
            like = nearest(name, [found for found in table.cells if found not in COLUMNS])
            said = {"like": like, "known": list(COLUMNS)}
            problems.append(Problem(PlanCode.MISSING_COLUMN, file.name, None, name, values=said))
    for name in table.cells:
        if name not in COLUMNS:
            said = {"known": list(COLUMNS)}
            problems.append(Problem(PlanCode.UNKNOWN_COLUMN, file.name, None, name, values=said))
    return table, problems


def _values(table: TextTable, place: int, row: int) -> tuple[dict[str, Any], list[Problem]]:
    values: dict[str, Any] = {}
    problems = []
    for name, (kind, required, advice) in COLUMNS.items():
        text = table.cells[name][place] if name in table.cells else ""
        heading = table.headings.get(name, name)
        if not text:
            if required:
                said = {"advice": advice}
                problems.append(Problem(Wrong.EMPTY_CELL, table.file, row, heading, values=said))
            continue
        try:
            parsed = parse(text, kind)
            unit = table.us.get(name)
            values[name] = unit.to_metric(cast("float", parsed)) if unit else parsed
        except CellError as error:
            problems.append(error.at(table.file, row, heading, text, advice=advice))
    return values, problems


def _misfits(
    table: TextTable,
    place: int,
    row: int,
    values: dict[str, Any],
    lakes: dict[str, np.datetime64],
) -> list[Problem]:
    """Return what does not fit the campaign: an unknown lake, a day gone by, a temperature."""

    def at(name: str) -> tuple[str, int, str, str]:
        """Return file, row, heading and cell, as they are written."""
        return table.file, row, table.headings.get(name, name), table.cells[name][place]

    lake = cast("str", values["lake"])
    if lake not in lakes:
        said = {"like": nearest(lake, list(lakes)), "known": list(lakes)}
        return [Problem(PlanCode.UNKNOWN_LAKE, *at("lake"), said)]
    problems = []
    try:
        check_day(lake, lakes[lake], values["date"])
    except MisfitError as error:
        problems.append(error.at(*at("date")))
    try:
        with shown_in("us" if table.us else "metric"):
            check_temperature(values.get("water_temp_c", 10.0))
    except MisfitError as error:
        problems.append(error.at(*at("water_temp_c")))
    return problems
