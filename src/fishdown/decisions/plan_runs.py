"""Simulated campaigns on file, line by line, so that a plan that was stopped goes on."""

from __future__ import annotations

import csv
import sys
from contextlib import contextmanager
from dataclasses import asdict, dataclass, fields
from typing import TYPE_CHECKING, Any

from fishdown.errors import PlanError
from fishdown.kept_lines import damaged, kept_lines

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
_LARGEST = {"probability_below": 1.0, "settled": 1.0}


def read_runs(path: Path, fingerprint: str) -> list[Run]:
    """Read the runs of an earlier start of the same plan, if there was one.

    A line that was cut off in the middle of writing is dropped, from the file too.

    Raises
    ------
    PlanError
        If the file belongs to another plan, or cannot be read, or a line of it was changed.
    """
    with _writing(path.parent):
        lines = kept_lines(path, PlanError)
    header = _header(fingerprint).splitlines()
    if lines[: len(header)] != (header if lines else []):
        raise PlanError(
            f"{path} holds campaigns of another plan, other settings or another fishdown; remove "
            "it, or name another folder with --out"
        )
    return [
        _run(path, number, line)
        for number, line in enumerate(lines[len(header) :], start=len(header) + 1)
    ]


def _run(path: Path, number: int, line: str) -> Run:
    cells = line.split(",")
    if len(cells) != len(COLUMNS):
        raise PlanError(damaged(path, number, f"{len(cells)} values in place of {len(COLUMNS)}"))
    values: dict[str, Any] = {}
    for name, cell in zip(COLUMNS, cells, strict=True):
        try:
            value = int(cell) if name in _WHOLE else float(cell)
        except ValueError as error:
            raise PlanError(damaged(path, number, f"{name} = {cell!r} is no number")) from error
        if not 0.0 <= value <= _LARGEST.get(name, sys.float_info.max):
            raise PlanError(damaged(path, number, f"{name} = {cell} cannot be"))
        values[name] = value
    run = Run(**values)
    if not run.low <= run.median <= run.high:
        raise PlanError(damaged(path, number, "low, median and high are not in order"))
    return run


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
