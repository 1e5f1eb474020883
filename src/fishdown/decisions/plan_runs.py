"""Simulated campaigns on file, line by line, so that a plan that was stopped goes on."""

from __future__ import annotations

import csv
from dataclasses import asdict, dataclass, fields
from typing import TYPE_CHECKING

from fishdown.errors import PlanError

if TYPE_CHECKING:
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
    """Read the runs of an earlier start of the same plan; starts the file if there is none.

    A line that was cut off in the middle of writing is dropped, from the file too.

    Raises
    ------
    PlanError
        If the file belongs to another plan.
    """
    header = f"# fishdown plan {fingerprint}\n{','.join(COLUMNS)}\n"
    if not path.exists():
        path.write_text(header, encoding="utf-8")
        return []
    text = path.read_text(encoding="utf-8")
    if not text.startswith(header):
        raise PlanError(
            f"{path} holds campaigns of another plan, other settings or another fishdown; remove "
            "it, or name another folder with --out"
        )
    whole = text[: text.rindex("\n") + 1]
    if whole != text:
        path.write_text(whole, encoding="utf-8")
    rows = csv.DictReader(whole[len(header) :].splitlines(), fieldnames=COLUMNS)
    try:
        return [
            Run(**{name: int(row[name]) if name in _WHOLE else float(row[name]) for name in row})  # type: ignore[arg-type]
            for row in rows
        ]
    except (TypeError, ValueError) as error:
        raise PlanError(f"{path} is damaged ({error}); remove it and start again") from error


def append_run(path: Path, run: Run) -> None:
    """Write one run to the end of the file."""
    with path.open("a", encoding="utf-8", newline="") as file:
        csv.writer(file, lineterminator="\n").writerow(asdict(run).values())
