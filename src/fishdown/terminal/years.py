"""Years ahead in the terminal, and as files: the table, the figure and what it shows in words."""

from __future__ import annotations

import math
from pathlib import Path
from typing import TYPE_CHECKING

import pandas as pd

from fishdown.decisions.years_words import HELD, YOUNG, taken
from fishdown.drafts import all_or_none
from fishdown.terminal.tables import start_table
from fishdown.words import amount, percent_with_error, value_and_error

if TYPE_CHECKING:
    from collections.abc import Iterator

    from rich.console import Console
    from rich.table import Table

    from fishdown.decisions.years import YearsAhead

TABLE = "years.csv"
FIGURE = "years_ahead.png"
DESCRIPTION = "years_ahead.txt"
FILES = (TABLE, FIGURE, DESCRIPTION)


def years_tables(ahead: YearsAhead) -> Iterator[Table]:
    """Lay out each lake and scenario, year by year."""
    shown = ahead.frame[ahead.frame["fish_median"].notna()]
    for (lake, young), group in shown.groupby(["lake", "young"], sort=False):
        weighed = bool(group["probability_below"].notna().all())
        unit = "kg/ha" if weighed else "Fish"
        levels = [f"For {100 * wanted:.0f} %\na year" for wanted in HELD] if weighed else []
        below = ["Below the threshold?"] if weighed else []
        table = start_table(
            f"{lake}, if {YOUNG[str(young)]} and {taken(group.iloc[0].to_dict())}",
            "End of",
            unit,
            "90 % interval",
            *below,
            *levels,
            right=("End of", unit, "90 % interval"),
            whole=(*below, *levels),
            tight=True,
        )
        what, per = ("biomass", "_kg_per_ha") if weighed else ("fish", "")
        for _, row in group.iterrows():
            low, median, high = (
                amount(row[f"{what}_{point}{per}"]) for point in ("low", "median", "high")
            )
            cells = [str(row["year"]), median, f"{low}–{high}"]
            if weighed:
                chance = percent_with_error(row["probability_below"], row["mc_error"])
                cells.append(f"{row['words']}\n{chance}")
                cells += [_least(row, wanted) for wanted in HELD]
            table.add_row(*cells)
        if weighed:
            threshold = amount(float(group["threshold_kg_per_ha"].iloc[0]))
            table.caption = (
                f"Threshold {threshold} kg/ha; ± is the Monte-Carlo standard error. For 80 %: what "
                "to take in every year up to this one, and nothing else, to be below it then."
            )
        yield table


def _least(row: pd.Series, wanted: float) -> str:
    names = [f"{unit}_a_year_for_{100 * wanted:.0f}" for unit in ("fish", "kg")]
    (fish, kg), errors = row[names], row[[f"{name}_mc_error" for name in names]].to_numpy()
    if pd.isna(fish):
        return ""
    if fish == 0:
        _, doubt = value_and_error(0.0, errors[0], whole=True)
        return f"none\n± {doubt} fish" if errors[0] else "none"
    taken_fish, _ = value_and_error(fish, errors[0], whole=True)
    taken_kg, _ = value_and_error(kg, errors[1])
    # In percent, which takes less room and is much the same for both.
    error = max(1, math.ceil(100.0 * max(errors / (fish, kg))))
    return f"{taken_fish} fish\n{taken_kg} kg\n± {error} %"


def print_years(console: Console, ahead: YearsAhead) -> None:
    """Print the tables, what they say in words, and what they rest on."""
    for table in years_tables(ahead):
        console.print(table)
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
    with all_or_none(folder, instead_of=FILES) as draft:
        write_csv(ahead.frame, draft / TABLE)
        if drawn:
            save_figure(years_ahead.draw(ahead.frame), draft / FIGURE, "png")
            words = f"{years_ahead.TITLE}\n{years_ahead.describe(ahead.frame)}\n"
            (draft / DESCRIPTION).write_text(words, encoding="utf-8")
    return FILES if drawn else (TABLE,)
