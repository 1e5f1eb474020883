"""The command on bycatch: printed, and written as tables and sentences."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fishdown.api.bycatch import bycatch
from fishdown.atomic_write import all_or_none
from fishdown.campaign import from_records
from fishdown.darwin_core.archive import EVENTS, META, OCCURRENCES, write_darwin_core
from fishdown.display.bycatch import bycatch_table, effects_table, limits_table
from fishdown.display.table import Source
from fishdown.records import read_records
from fishdown.spreadsheet import write_csv
from fishdown.terminal.render import in_terminal

if TYPE_CHECKING:
    import argparse

    import pandas as pd
    from rich.console import Console

    from fishdown.api.bycatch import Bycatch

# Not the names of tables of records, beside which they may be written.
RATES, EFFECTS, LIMITS, WORDS = (
    "bycatch_rates.csv", "bycatch_effects.csv", "bycatch_against_limits.csv", "bycatch.txt"
)  # fmt: skip


def print_bycatch(console: Console, options: argparse.Namespace) -> bool:
    """Estimate, write if asked to, and print; returns whether everything could be told."""
    records = read_records(options.folder)
    campaign = from_records(records)
    found = bycatch(campaign, pulls=options.pulls or 0, month=options.month, seed=options.seed)
    lacking: list[str] = []
    if options.darwin_core is not None:
        lacking = write_darwin_core(records, options.darwin_core)
        options.saved = options.darwin_core
    if options.out is not None:
        written = write_bycatch(found, options.out)
        options.saved = options.out
    if len(found.frame):
        console.print(in_terminal(bycatch_table(Source("bycatch_rates", found.frame))))
    if len(found.effects):
        console.print(in_terminal(effects_table(Source("bycatch_effects", found.effects))))
    if len(found.limits):
        console.print(in_terminal(limits_table(Source("bycatch_against_limits", found.limits))))
    for sentence in found.sentences():
        console.print(sentence)
    if not found.told:
        console.print("Where the computation was not reliable enough, numbers are left out.")
    if options.out is not None:
        console.print(f"\nWritten to {options.out}: {', '.join(written)}.")
    if options.darwin_core is not None:
        files = ", ".join((EVENTS, OCCURRENCES, META))
        console.print(f"\nWritten to {options.darwin_core}, as Darwin Core: {files}.")
        for sentence in lacking:
            console.print(sentence)
    return found.told


def write_bycatch(found: Bycatch, folder: str) -> list[str]:
    """Write tables and sentences, all or none; returns their names."""
    tables: dict[str, pd.DataFrame] = {
        RATES: found.frame,
        EFFECTS: found.effects,
        LIMITS: found.limits,
    }
    with all_or_none(folder, make=True) as staged:
        for name, frame in tables.items():
            write_csv(frame, staged / name)
        text = "\n".join(found.sentences()) + "\n"
        (staged / WORDS).write_text(text, encoding="utf-8")
    return [*tables, WORDS]
