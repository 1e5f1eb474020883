"""What the next measurement is worth: printed, and written beside the fit."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fishdown.atomic_write import all_or_none
from fishdown.decisions.worth import FEWEST_DRAWS
from fishdown.display.table import Source
from fishdown.display.worth import worth_sentences, worth_table
from fishdown.records.tables import rows_of
from fishdown.terminal.render import in_terminal

if TYPE_CHECKING:
    import pandas as pd
    from rich.console import Console

TABLE = "worth.csv"


def print_worth(console: Console, frame: pd.DataFrame) -> None:
    """Print the table, and of each lake which measurement would narrow it most."""
    source = Source("worth", frame)
    console.print(in_terminal(worth_table(source)))
    for sentence in worth_sentences(source):
        console.print(sentence)
    few = frame[frame["draws"] < FEWEST_DRAWS]
    if len(few):
        which = "all together" if set(few["measurement"]) == {"all"} else "some of them"
        console.print(
            f"Few draws of the fit agree with what would be found by {which} "
            f"({', '.join(few['lake'].drop_duplicates())}): these predictions are rough; fit with "
            "more --draws."
        )
    for row in rows_of(frame[frame["measurement"].isna() & (frame["gate"] != "passed")]):
        console.print(f"{row.lake}: withheld ({row.gate}).")


def write_worth(frame: pd.DataFrame, folder: str) -> None:
    """Write the table into the folder of the fit.

    Raises
    ------
    FishdownError
        If the folder cannot be written.
    """
    from fishdown.spreadsheet import write_csv

    with all_or_none(folder, instead_of=(TABLE,)) as staged:
        write_csv(frame, staged / TABLE)
