"""Pulls and years ahead and the worth of measurements, beside a fit, for its page."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pandas as pd

from fishdown.decisions.ahead import TABLE as PULLS
from fishdown.decisions.ahead_tables import COLUMNS as PULL_COLUMNS
from fishdown.decisions.dependence import COLUMNS as ASSUMPTION_COLUMNS
from fishdown.decisions.rules_tables import COLUMNS as RULE_COLUMNS
from fishdown.decisions.worth import COLUMNS as WORTH_COLUMNS
from fishdown.decisions.years import COLUMNS as YEAR_COLUMNS
from fishdown.spreadsheet import as_written
from fishdown.statements.in_units import metric_frame, shown_columns

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fishdown.posterior.fitted import FittedCampaign

YEARS, RULES, WORTH = "years.csv", "harvest_rules.csv", "worth.csv"
ASSUMED = "forecast_assumptions.csv"
# Columns of words; all others of these tables are numbers.
_WORDS = {
    "lake", "season", "date", "net", "gate", "colder_than_readings", "last_season", "young",
    "removal_kind", "words", "rates_from_records", "rates_from_prior", "rates_given", "statement",
    "fit", "currency", "measurement", "rule", "reached", "assumption",
    "used",
}  # fmt: skip
# The commands that write them.
COMMANDS = {
    PULLS: "fishdown ahead",
    **dict.fromkeys((YEARS, ASSUMED, RULES), "fishdown years"),
    WORTH: "fishdown worth",
}


def decisions(
    fit: FittedCampaign, folder: Path | None, *, despite_gate: bool
) -> tuple[dict[str, pd.DataFrame], tuple[str, ...]]:
    """Read what `fishdown ahead`, `years` and `worth` left in the folder of a fit.

    Parameters
    ----------
    folder : Path or None
        None for a page that belongs to no folder.
    despite_gate : bool
        Show numbers of lakes that a gate would withhold.

    Returns
    -------
    frames : dict of DataFrame
        ``ahead``, ``years``, ``forecast_assumptions``, ``harvest_rules`` and ``worth``, where
        they are there.
    remarks : tuple of str
        Which file is not shown, and why.
    """
    frames, remarks = {}, []
    for file, columns in (
        (PULLS, PULL_COLUMNS),
        (YEARS, YEAR_COLUMNS),
        (ASSUMED, ASSUMPTION_COLUMNS),
        (RULES, RULE_COLUMNS),
        (WORTH, WORTH_COLUMNS),
    ):
        if folder is None or not (folder / file).is_file():
            continue
        frame = _read(folder / file, columns)
        if frame is None:
            reason = f"it does not have the form that {COMMANDS[file]} writes"
        elif set(frame["fit"]) != {fit.fingerprint}:
            reason = "it belongs to another fit"
        elif not despite_gate and _told_despite_gate(frame):
            reason = "it contains numbers that a failed check withholds"
        else:
            frames[file.removesuffix(".csv")] = frame
            continue
        remarks.append(f"The file {file} is not shown: {reason}; run {COMMANDS[file]} again.")
    return frames, tuple(remarks)


def _read(path: Path, columns: Sequence[str]) -> pd.DataFrame | None:
    """Read a table; None where its form was changed."""
    written = shown_columns(columns)
    words = [name for name in written if name in _WORDS]
    numbers = [name for name in written if name not in _WORDS]
    try:
        frame = pd.read_csv(path, dtype=dict.fromkeys(words, str))
        if list(frame.columns) != written or frame.empty:
            return None
        frame[numbers] = frame[numbers].apply(pd.to_numeric)
        frame[words] = frame[words].map(as_written, na_action="ignore")
    except (OSError, ValueError):
        return None
    return metric_frame(frame, columns)


def _told_despite_gate(frame: pd.DataFrame) -> bool:
    names = (
        "fish_left_median", "fish_median", "fish_removed_mean", "fish_a_year_for_80", "narrower"
    )  # fmt: skip
    name = next(name for name in names if name in frame)
    return bool((frame[name].notna() & (frame["gate"] != "passed")).any())
