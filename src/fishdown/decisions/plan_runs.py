"""Simulated campaigns on file, line by line, so that a plan that was stopped goes on."""

from __future__ import annotations

import csv
from contextlib import contextmanager
from dataclasses import asdict, dataclass, fields
from typing import TYPE_CHECKING

from fishdown.errors import PlanError

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

NAME = "plan_campaigns.csv"


@dataclass(frozen=True)
class Run:
    """One simulated campaign of one design, and what its fit made of it.

    Attributes
    ----------
    candidate, simulation : int
        Positions, from 0.
    fish : float
        True fish before netting.
    median, low, high : float
        Abundance by the fit, fish, with its 90 % interval.
    biomass_after : float
        True kg/ha after netting.
    probability_below : float
        By the fit.
    settled : int
        1 if the chains agree (R-hat of abundance at most 1.05), else 0.
    """

    candidate: int
    simulation: int
    fish: float
    median: float
    low: float
    high: float
    biomass_after: float
    probability_below: float
    settled: int


COLUMNS = tuple(field.name for field in fields(Run))
_WHOLE = ("candidate", "simulation", "settled")


def read_runs(path: Path, fingerprint: str) -> list[Run]:
    """Read the runs of an earlier start of the same plan, if there was one.

    A line that was cut off in the middle of writing is dropped, from the file too.

    Raises
    ------
    PlanError
        If the file belongs to another plan, or cannot be read.
    """
    header = _header(fingerprint)
    with _writing(path.parent):
        text = path.read_text(encoding="utf-8") if path.exists() else header
    if not text.startswith(header):
        raise PlanError(
            f"{path} holds campaigns of another plan, other settings or another fishdown; remove "
            "it, or name another folder with --out"
        )
    whole = text[: text.rindex("\n") + 1]
    if whole != text:
        with _writing(path.parent):
            path.write_text(whole, encoding="utf-8")
    rows = csv.DictReader(whole[len(header) :].splitlines(), fieldnames=COLUMNS)
    try:
        return [
            Run(**{name: int(row[name]) if name in _WHOLE else float(row[name]) for name in row})  # type: ignore[arg-type]
            for row in rows
        ]
    except (TypeError, ValueError) as error:
        raise PlanError(f"{path} is damaged ({error}); remove it and start again") from error


def start_runs(path: Path, fingerprint: str) -> None:
    """Make the file and its folder, unless an earlier start has."""
    with _writing(path.parent):
        path.parent.mkdir(parents=True, exist_ok=True)
        # To the end: whether it can be written to is known before the long work, not after it.
        with path.open("a", encoding="utf-8") as file:
            if not file.tell():
                file.write(_header(fingerprint))


def append_run(path: Path, run: Run) -> None:
    """Write one run to the end of the file."""
    with _writing(path.parent), path.open("a", encoding="utf-8", newline="") as file:
        csv.writer(file, lineterminator="\n").writerow(asdict(run).values())


@contextmanager
def _writing(folder: Path) -> Iterator[None]:
    """Turn what hinders writing to the folder into a PlanError."""
    try:
        yield
    except OSError as error:
        raise PlanError(f"cannot write to {folder}: {error.strerror or error}") from error


def _header(fingerprint: str) -> str:
    return f"# fishdown plan {fingerprint}\n{','.join(COLUMNS)}\n"
