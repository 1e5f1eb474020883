"""Years ahead: printed, and written as a table, a figure and what it shows in words."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from fishdown.atomic_write import all_or_none
from fishdown.display.years import years_tables
from fishdown.statements.in_units import shown_frame
from fishdown.terminal.render import in_terminal
from fishdown.units import shown_in

if TYPE_CHECKING:
    from rich.console import Console

    from fishdown.decisions.years import YearsAhead

TABLE = "years.csv"
FIGURE = "years_ahead.png"
DESCRIPTION = "years_ahead.txt"
FILES = (TABLE, FIGURE, DESCRIPTION)


def print_years(console: Console, ahead: YearsAhead) -> None:
    """Print the tables, their statements and their assumptions."""
    with shown_in(ahead.units):
        for table in years_tables(ahead):
            console.print(in_terminal(table))
    withheld = ahead.frame["fish_median"].isna()
    for statement in ahead.frame.loc[withheld, "statement"].drop_duplicates():
        console.print(statement)
    seen = ahead.frame[~withheld].groupby(["lake", "young"], sort=False)["statement"]
    for statement in (*seen.last(), *ahead.holding, *ahead.assumes):
        console.print(statement)


def write_years(ahead: YearsAhead, folder: str | Path) -> tuple[str, ...]:
    """Write `FILES` into a folder, all or none; the figure only where something is drawn.

    Raises
    ------
    FishdownError
        If the folder cannot be written.
    """
    from fishdown.figures import years_ahead
    from fishdown.figures.files import save_figure
    from fishdown.spreadsheet import write_csv

    drawn = not years_ahead.missing(ahead.frame)
    with all_or_none(folder, instead_of=FILES) as staged, shown_in(ahead.units):
        write_csv(shown_frame(ahead.frame), staged / TABLE)
        if drawn:
            save_figure(years_ahead.draw(ahead.frame), staged / FIGURE, "png")
            words = f"{years_ahead.TITLE}\n{years_ahead.describe(ahead.frame)}\n"
            (staged / DESCRIPTION).write_text(words, encoding="utf-8")
    return FILES if drawn else (TABLE,)
