"""What the tests of the command line share: small records, and how to read what was printed."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

FILES = {
    "posterior.nc",
    "verdicts.csv",
    "estimates.csv",
    "removals.csv",
    "checks.csv",
    "run.json",
    "manifest.json",
}
CONTROL = re.compile(r"[\x00-\x09\x0b-\x1f\x7f-\x9f]")
CUT_NUMBER = re.compile(r"\d…")


def passes(folder_of: Callable[..., Path], *lakes: str) -> Path:
    """Three passes over each lake: 48, 27 and 12 fish; four weighed."""
    lakes = lakes or ("Pond",)
    return folder_of(
        lakes=[{"lake": lake, "area_ha": 2.0} for lake in lakes],
        pulls=[
            {"date": f"2024-06-0{day}", "lake": lake, "net": "A", "caught": caught}
            for lake in lakes
            for day, caught in enumerate((48, 27, 12), start=1)
        ],
        measured=[
            {"date": "2024-06-01", "lake": lake, "weight_kg": weight}
            for lake in lakes
            for weight in (1.6, 2.0, 2.3, 2.6)
        ],
    )


def joined(text: str) -> str:
    """Undo the line breaks of sentences that were wrapped."""
    return " ".join(text.split())


def assert_readable(text: str) -> None:
    assert not CONTROL.search(text)
    assert max(len(line) for line in text.splitlines()) <= 80
    assert not CUT_NUMBER.search(text)
    assert "nan" not in text.split()
