"""The command that finds the best time to lift: printed, and written as a table and a figure."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fishdown.atomic_write import all_or_none
from fishdown.decisions.lift_time import lift_times
from fishdown.decisions.lift_words import lift_sentences
from fishdown.display.lift_time import lift_table
from fishdown.records import read_records
from fishdown.terminal.render import in_terminal
from fishdown.units import shown_in

if TYPE_CHECKING:
    import argparse

    from rich.console import Console

    from fishdown.decisions.lift_time import LiftTimes

TABLE, FIGURE, DESCRIPTION = "lift_time.csv", "lift_time.png", "lift_time.txt"


def print_lift_time(console: Console, options: argparse.Namespace) -> bool:
    """Find, write if asked to, and print; returns whether any time can be told."""
    records = read_records(options.folder)
    found = lift_times(records, pause_minutes=options.pause, seed=options.seed)
    with shown_in(records.settings.units):
        return _tell(console, options, found)


def _tell(console: Console, options: argparse.Namespace, found: LiftTimes) -> bool:
    if options.out is not None and found.told:
        write_lift_time(found, options.out)
        options.saved = options.out
    for lake in found.lakes:
        if not lake.why_not:
            console.print(in_terminal(lift_table(lake, found.frame)))
    for sentence in lift_sentences(found):
        console.print(sentence)
    if options.saved is not None:
        console.print(f"\nWritten to {options.out}: {TABLE}, {FIGURE}, {DESCRIPTION}.")
    return found.told


def write_lift_time(found: LiftTimes, folder: str) -> None:
    """Write table, figure and what both say in words, all or none."""
    from fishdown.figures import lift_time
    from fishdown.figures.files import save_figure
    from fishdown.spreadsheet import write_csv

    with all_or_none(folder, make=True) as staged:
        write_csv(found.frame, staged / TABLE)
        save_figure(lift_time.draw(found), staged / FIGURE, "png")
        words = [f"{lift_time.TITLE}: {lift_time.describe(found)}", *lift_sentences(found)]
        (staged / DESCRIPTION).write_text("\n".join(words) + "\n", encoding="utf-8")
