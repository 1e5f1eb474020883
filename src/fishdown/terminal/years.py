"""Years ahead: printed, and written as a table, a figure and what it shows in words."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from fishdown.atomic_write import all_or_none
from fishdown.display.years import rules_tables, years_tables
from fishdown.statements.in_units import shown_frame
from fishdown.terminal.render import in_terminal
from fishdown.units import shown_in

if TYPE_CHECKING:
    from rich.console import Console

    from fishdown.decisions.years import YearsAhead

TABLE = "years.csv"
FIGURE = "years_ahead.png"
DESCRIPTION = "years_ahead.txt"
ASSUMED = "forecast_assumptions.csv"
RULES = "harvest_rules.csv"
RULES_BY_YEAR = "harvest_rules_by_year.csv"
RULES_FIGURE = "harvest_rules.png"
RULES_DESCRIPTION = "harvest_rules.txt"
FILES = (TABLE, FIGURE, DESCRIPTION, ASSUMED, RULES, RULES_BY_YEAR, RULES_FIGURE, RULES_DESCRIPTION)


def print_years(console: Console, ahead: YearsAhead) -> None:
    """Print the tables, their statements and their assumptions."""
    with shown_in(ahead.units):
        for table in years_tables(ahead):
            console.print(in_terminal(table))
        for table in rules_tables(ahead.rules) if ahead.rules is not None else ():
            console.print(in_terminal(table))
    withheld = ahead.frame["fish_median"].isna()
    for statement in ahead.frame.loc[withheld, "statement"].drop_duplicates():
        console.print(statement)
    seen = ahead.frame[~withheld].groupby(["lake", "young"], sort=False)["statement"]
    compared = () if ahead.rules is None else ahead.rules["statement"].drop_duplicates()
    for statement in (*seen.last(), *ahead.holding, *ahead.depends, *compared, *ahead.assumes):
        console.print(statement)


def write_years(ahead: YearsAhead, folder: str | Path) -> tuple[str, ...]:
    """Write those of `FILES` that there is something for into a folder, all or none.

    Returns
    -------
    tuple of str
        Their names; of an earlier projection none is left.

    Raises
    ------
    FishdownError
        If the folder cannot be written.
    """
    from fishdown.figures import harvest_rules, years_ahead
    from fishdown.figures.files import save_figure
    from fishdown.spreadsheet import write_csv

    tables = {
        TABLE: ahead.frame,
        ASSUMED: ahead.assumed,
        RULES: ahead.rules,
        RULES_BY_YEAR: ahead.rules_by_year,
    }
    figures = (
        (years_ahead, ahead.frame, FIGURE, DESCRIPTION),
        (harvest_rules, ahead.rules_by_year, RULES_FIGURE, RULES_DESCRIPTION),
    )
    written = []
    with all_or_none(folder, instead_of=FILES) as staged, shown_in(ahead.units):
        for name, frame in tables.items():
            if frame is not None:
                write_csv(shown_frame(frame), staged / name)
                written.append(name)
        for module, frame, picture, description in figures:
            if frame is None or module.missing(frame):
                continue
            save_figure(module.draw(frame), staged / picture, "png")
            words = f"{module.TITLE}\n{module.describe(frame)}\n"
            (staged / description).write_text(words, encoding="utf-8")
            written += [picture, description]
    return tuple(written)
