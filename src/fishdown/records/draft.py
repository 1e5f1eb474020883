"""The records as read cell by cell, before the rules that compare tables."""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import pandas as pd

from fishdown.equality import by_value
from fishdown.records.headings import absent_headings
from fishdown.records.problems import Problem, ProblemCode
from fishdown.records.seasons import seasons_of_pulls, seasons_of_rows
from fishdown.records.settings import Settings, read_settings
from fishdown.records.tables import (
    REQUIRED_TABLES,
    TABLES,
    empty_frame,
    required_columns,
)
from fishdown.records.values import read_table

if TYPE_CHECKING:
    from fishdown.records.source import Source


@by_value
@dataclass(frozen=True)
class Draft:
    """Tables in which a cell that is empty or wrong is missing.

    Attributes
    ----------
    source : Source
        The text they were read from.
    settings : Settings or None
        None if the settings have problems of their own.
    frames : dict of str to pandas.DataFrame
        Every table, empty where there is none, with ``season`` where it has a date;
        pulls also have ``label``, the season as written, and ``turn``, their order within
        lake and day with no gaps in it.
    """

    source: Source
    settings: Settings | None
    frames: dict[str, pd.DataFrame]

    def given(self, name: str) -> bool:
        """Whether the table is there and could be read."""
        return name in self.source.texts

    def whole(self, name: str) -> bool:
        """Whether no row and no required column of the table is lacking.

        A rule that looks for something *missing* in a table holds only if this is true;
        otherwise one error would be reported again in every row that refers to it.
        """
        if name in self.source.unreadable:
            return False
        text = self.source.texts.get(name)
        if text is None:
            return True
        if name in REQUIRED_TABLES and not text.rows:
            return False
        return not text.incomplete and text.cells.keys() >= set(required_columns(name))

    def problem(
        self,
        code: ProblemCode,
        name: str,
        row: Any = None,
        column: str | None = None,
        **values: object,
    ) -> Problem:
        """Make a problem that shows what the cell says, as written.

        Its sentences may name values, the cells of a row that comes from `rows_of`, and files of
        tables (``pulls_file``).
        """
        files = {f"{table}_file": file for table, file in self.source.files.items()}
        if not isinstance(row, int | None):
            values, row = row._asdict() | values, row.row
        values = {"us": self.in_us_units(name)} | values
        cell = "" if row is None or column is None else self.says(name, row, column)
        return Problem(code, self.source.files[name], row, column, cell, files | values)

    def in_us_units(self, name: str) -> bool:
        """Whether the crew wrote some column of a table in US customary units."""
        text = self.source.texts.get(name)
        return text is not None and bool(text.us)

    def says(self, name: str, row: int, column: str) -> str:
        """Return a cell as written; the empty text if there is no such cell."""
        text = self.source.texts.get(name)
        if text is None or column not in text.cells:
            return ""
        place = bisect_left(text.rows, row)
        found = place < len(text.rows) and text.rows[place] == row
        return text.cells[column][place] if found else ""


def read_draft(source: Source) -> tuple[Draft, list[Problem]]:
    """Read every cell of every table.

    Returns
    -------
    draft : Draft
        What could be read.
    problems : list of Problem
        Every setting, column and cell that is wrong.
    """
    settings = None
    problems: list[Problem] = []
    if source.entries is not None:
        settings, problems = read_settings(source.files["campaign"], source.entries)
        problems += absent_headings(source)
    frames = {}
    for name in TABLES:
        if name not in source.texts:
            frames[name] = empty_frame(name)
            continue
        frames[name], found = read_table(name, source.texts[name], source.notation)
        problems += found
    pulls = frames["pulls"]
    pulls["label"] = pulls["season"]
    pulls["season"] = seasons_of_pulls(pulls)
    pulls["turn"] = turns(pulls)
    for name in ("marked", "recaptures", "measured", "surveys", "second_looks", "bycatch"):
        frames[name]["season"] = seasons_of_rows(frames[name], pulls)
    return Draft(source, settings, frames), problems


def turns(pulls: pd.DataFrame) -> pd.Series[float]:
    """Give a number to the pulls of each lake and day.

    Parameters
    ----------
    pulls : pandas.DataFrame
        Columns ``lake``, ``date`` and ``order``, rows in file order.

    Returns
    -------
    pandas.Series of float
        The order as written; pulls without one follow those that have one, in file order.
    """
    of_day = pulls.groupby(["lake", "date"], sort=False)["order"]
    last = of_day.transform("max").fillna(0)
    lacking = pulls["order"].isna()
    place = lacking.astype("int64").groupby([pulls["lake"], pulls["date"]], sort=False).cumsum()
    return pulls["order"].where(~lacking, last + place)
