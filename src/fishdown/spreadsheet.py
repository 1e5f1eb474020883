"""Tables as CSV files in which no cell is a formula to a spreadsheet."""

from __future__ import annotations

import csv
import io
from typing import TYPE_CHECKING, Any

import pandas as pd

if TYPE_CHECKING:
    from pathlib import Path

# What a spreadsheet would take for the start of a formula; the last four are the wide forms that
# some of them take for the narrow ones.
FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")


def write_csv(frame: pd.DataFrame, path: Path) -> None:
    """Write a table to a file; see `safe_csv`."""
    path.write_text(safe_csv(frame), encoding="utf-8", newline="")


def safe_csv(frame: pd.DataFrame) -> str:
    """Return a table as CSV in which no cell is a formula to a spreadsheet.

    Words that begin like a formula get an apostrophe in front, as spreadsheets themselves do;
    numbers stay as they are.
    """
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(guarded(str(name)) for name in frame.columns)
    for row in frame.itertuples(index=False):
        writer.writerow(guarded(value) if isinstance(value, str) else plain(value) for value in row)
    return text.getvalue()


def guarded(words: str) -> str:
    """Return words so that a spreadsheet shows them; `as_written` turns them back."""
    return f"'{words}" if words.lstrip("'").startswith(FORMULA_STARTS) else words


def as_written(words: str) -> str:
    """Return words that `guarded` made safe as they were before."""
    return words[1:] if words.startswith("'") and guarded(words) != words else words


def plain(value: Any) -> str:
    """Return a value as it stands in a file: in full, and nothing where it is missing."""
    if isinstance(value, str):
        return value
    if pd.isna(value):
        return ""
    return str(value.item() if hasattr(value, "item") else value)
