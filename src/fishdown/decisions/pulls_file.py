"""Pulls to come from a CSV file: date, lake, net and perhaps the water temperature."""

from __future__ import annotations

import math
from pathlib import Path
from typing import TYPE_CHECKING, Any, cast

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
from fishdown.records.csv_text import csv_lines
from fishdown.records.plain_file import UnreadableError, as_text, read_plain
from fishdown.records.problems import Problem, counted, listed, nearest
from fishdown.records.text import TextTable, text_table

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
                wrong = _misfits(table.file, row, values, lakes)
            problems += wrong
            if not wrong:
                celsius = values.get("water_temp_c", math.nan)
                rows.setdefault(values["lake"], []).append((values["date"], values["net"], celsius))
        if not problems and not 1 <= len(table.rows) <= MOST_PULLS:
            mend = f"write 1 to {MOST_PULLS:,} rows, one a pull"
            problems.append(
                Problem(table.file, None, None, "", counted(len(table.rows), "pull"), mend)
            )
    errors = sorted(problem for problem in problems if problem.severity == "error")
    if errors:
        lines = "\n".join(f"  {line}" for line in listed(errors))
        raise PlanError(f"{counted(len(errors), 'problem')} in the plan:\n{lines}")
    return {lake: ordered(rows[lake]) for lake in last_days(campaign) if lake in rows}


def _table(file: Path) -> tuple[TextTable | None, list[Problem]]:
    try:
        table, problems = text_table(file.name, csv_lines(as_text(read_plain(file))))
    except UnreadableError as error:
        return None, [Problem(str(file), error.row, None, "", error.wrong, error.mend)]
    problems = [problem for problem in problems if problem.severity == "error"]
    if table is None:
        return None, problems
    for name, (_, required, _) in COLUMNS.items():
        if required and name not in table.cells:
            like = nearest(name, [found for found in table.cells if found not in COLUMNS])
            mend = f'rename "{like}"' if like else f"add it; the columns are {', '.join(COLUMNS)}"
            problems.append(Problem(file.name, None, name, "", "missing column", mend))
    for name in table.cells:
        if name not in COLUMNS:
            mend = f"delete it; the columns are {', '.join(COLUMNS)}"
            problems.append(Problem(file.name, None, name, "", "unknown column", mend))
    return table, problems


def _values(table: TextTable, place: int, row: int) -> tuple[dict[str, Any], list[Problem]]:
    values: dict[str, Any] = {}
    problems = []
    for name, (kind, required, mend) in COLUMNS.items():
        text = table.cells[name][place] if name in table.cells else ""
        if not text:
            if required:
                problems.append(Problem(table.file, row, name, "", "empty cell", mend))
            continue
        try:
            values[name] = parse(text, kind)
        except CellError as error:
            problems.append(Problem(table.file, row, name, text, error.wrong, error.mend or mend))
    return values, problems


def _misfits(
    file: str, row: int, values: dict[str, Any], lakes: dict[str, np.datetime64]
) -> list[Problem]:
    """Return what does not fit the campaign: an unknown lake, a day gone by, a temperature."""
    lake = cast("str", values["lake"])
    if lake not in lakes:
        like = nearest(lake, list(lakes))
        mend = f'did you mean "{like}"?' if like else f"lakes with pulls are {', '.join(lakes)}"
        return [Problem(file, row, "lake", lake, "no pulls in a lake of this name", mend)]
    problems = []
    try:
        check_day(lake, lakes[lake], values["date"])
    except PlanError as error:
        wrong, _, mend = str(error).partition("; ")
        problems.append(Problem(file, row, "date", str(values["date"]), wrong, mend))
    try:
        check_temperature(values.get("water_temp_c", 10.0))
    except PlanError as error:
        wrong, _, mend = str(error).partition("; ")
        shown = f"{values['water_temp_c']:g}"
        problems.append(Problem(file, row, "water_temp_c", shown, wrong, mend))
    return problems
