"""The tables on a fit as sheets of one workbook, for those who work on in a spreadsheet program."""

from __future__ import annotations

import io
import math
from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from fishdown.atomic_write import all_or_none
from fishdown.display.priors import priors_table
from fishdown.records.problems import printable
from fishdown.report.decisions import decisions
from fishdown.report.page import FILES, frames_of, provenance
from fishdown.spreadsheet import FORMULA_STARTS
from fishdown.statements.in_units import ENDS, shown_frame
from fishdown.units import US_UNITS, label, shown_in
from fishdown.version import __version__

if TYPE_CHECKING:
    import os
    from collections.abc import Iterable, Sequence

    from openpyxl import Workbook
    from openpyxl.cell import Cell
    from openpyxl.worksheet.worksheet import Worksheet

    from fishdown.checks.result import CheckResult
    from fishdown.posterior.fitted import FittedCampaign

WORKBOOK = "results.xlsx"

# What the name of a column ends with, and the unit that this is.
_UNITS = {
    **{end: unit for end, (unit, _) in ENDS.items()},
    **{us_end: US_UNITS[unit].unit for unit, us_end in ENDS.values()},
    "_s": "s",
}
_FISH = {"caught", "heard", "removed", "marked", "recaptured", "count", "dead"}
_ONE = (
    "probability",
    "share",
    "dead_share",
    "tail_probability",
    "wanted_probability",
    "flip_prior_probability",
)
_FISH_OF_SHEET = {("evidence", name) for name in ("low", "median", "high")}
# Names of which the parts say too little.
_WHOLE = {
    "kg": "kg",
    "lb": "lb",
    "rhat": "R-hat",
    "sd": "Standard deviation",
    "ess_bulk": "Effective draws, middle",
    "ess_tail": "Effective draws, tails",
    "gate": "Quality gate",
    "mc_error": "Monte-Carlo standard error, 0 to 1",
    "fish_mc_error": "Monte-Carlo standard error, fish",
    "kg_mc_error": "Monte-Carlo standard error, kg",
    "lb_mc_error": "Monte-Carlo standard error, lb",
    "narrower": "Interval narrower, share of its width",
    "narrower_mc_error": "Monte-Carlo standard error, share of the width",
    "narrower_per_1000": "Interval narrower per 1,000 of cost, share of its width",
    "firm_now": "Firm now, 1 or 0",
    "firm_expected": "Probability of a firm verdict, 0 to 1",
    "firm_mc_error": "Monte-Carlo standard error of that probability, 0 to 1",
}
_WIDEST, _NARROWEST, _MARGIN = 60, 9, 2


def write_workbook(
    fit: FittedCampaign,
    folder: str | os.PathLike[str],
    *,
    checks: Sequence[CheckResult],
    despite_gate: bool = False,
) -> Path:
    """Write `results.xlsx` into a folder.

    Arguments, answer and errors are those of `fishdown.Fit.workbook`.
    """
    folder = Path(folder)
    with shown_in(fit.units):
        book = results_book(fit, folder, checks=checks, despite_gate=despite_gate)
    # Into memory: an archive that a full disk cuts off complains again when it is let go.
    content = io.BytesIO()
    book.save(content)
    with all_or_none(folder, make=True) as staged:
        (staged / WORKBOOK).write_bytes(content.getvalue())
    return folder / WORKBOOK


def results_book(
    fit: FittedCampaign,
    folder: Path | None = None,
    *,
    checks: Sequence[CheckResult],
    despite_gate: bool = False,
) -> Workbook:
    """Return the workbook of a fit, with the pulls and years ahead that lie in a folder."""
    from openpyxl import Workbook

    ahead, not_shown = decisions(fit, folder, despite_gate=despite_gate)
    found = frames_of(fit, checks, despite_gate=despite_gate) | ahead
    frames = {name: shown_frame(frame) for name, frame in found.items()}
    sheets: dict[str, tuple[list[str], Iterable[Any]]] = {
        name: (_headings(name, frame), frame.itertuples(index=False))
        for name, frame in frames.items()
    }
    priors = priors_table(fit.spec)
    heads = [column.heading for column in priors.columns]
    sheets["priors"] = (heads, ([str(cell) for cell in row] for row in priors.rows))
    sheets["methods"] = (["What", "Value"], _methods(fit))
    problems = (*fit.campaign.warnings, *not_shown)
    if problems:
        sheets["warnings"] = (["Warnings on the records"], ([str(one)] for one in problems))
    book = Workbook()
    _fill(book.active, "contents", ["Sheet", "What is in it"], _contents(fit, sheets, despite_gate))
    for name, (headings, rows) in sheets.items():
        _fill(book.create_sheet(), name, headings, rows)
    return book


def heading(column: str, sheet: str = "") -> str:
    """Return the heading of a column in words, with its unit.

    Parameters
    ----------
    column : str
        Its name in the CSV files, such as ``biomass_median_kg_per_ha``.
    sheet : str, optional
        That it stands in, without which "low" has no unit.
    """
    if column in _WHOLE:
        return _WHOLE[column]
    end = next((end for end in _UNITS if column.endswith(end)), "")
    unit, name = _UNITS.get(end, ""), column.removesuffix(end)
    if column in _FISH or (sheet, column) in _FISH_OF_SHEET or column.startswith("per_pull"):
        unit = "fish"
    elif name.startswith(_ONE):
        unit = "0 to 1"
    words = name.replace("_", " ")
    return f"{words[:1].upper()}{words[1:]}" + (f", {unit}" if unit else "")


def _headings(sheet: str, frame: pd.DataFrame) -> list[str]:
    return [heading(str(column), sheet) for column in frame.columns]


def _contents(
    fit: FittedCampaign, sheets: Iterable[str], despite_gate: bool
) -> list[tuple[str, str]]:
    settings = fit.campaign.settings
    rows = [("", f"{settings.title}: {settings.species}")]
    if not fit.passed:
        shown = "shown in spite of that" if despite_gate else "withheld"
        rows.append(("", f"A quality gate failed: statements on at least one season are {shown}."))
    rows.append(("", "Intervals (low to high) hold 90 %."))
    described = FILES | {
        "priors": "priors of the model",
        "methods": "model, seed, versions and digests of the records",
        "warnings": "warnings on the records, and tables that are left out",
    }
    return [*rows, *((name, label(described[name])) for name in sheets)]


def _methods(fit: FittedCampaign) -> list[tuple[str, str]]:
    run = fit.run
    rows = [("fishdown", __version__), *provenance(fit)]
    rows += [(f"Part of the model: {part}", choice) for part, choice in fit.spec.parts.items()]
    rows += [("Left out of the model", note) for note in run.get("notes", ())]
    rows += [
        (f"SHA-256 of {file}", digest)
        for file, digest in sorted(run.get("input_sha256", {}).items())
    ]
    return [*rows, ("Model file", str(run.get("model_text", "")))]


def _fill(sheet: Worksheet, name: str, headings: Sequence[str], rows: Iterable[Any]) -> None:
    """Write a table into a sheet, with numbers as numbers and everything else as text."""
    from openpyxl.styles import Alignment, Font
    from openpyxl.utils import get_column_letter

    sheet.title = name
    widths = [len(text) for text in headings]
    for place, text in enumerate(headings, 1):
        _put(sheet.cell(1, place), text)
        sheet.cell(1, place).font = Font(bold=True)
        sheet.cell(1, place).alignment = Alignment(wrap_text=True, vertical="top")
    for at, row in enumerate(rows, 2):
        for place, value in enumerate(row, 1):
            cell = sheet.cell(at, place)
            _put(cell, value)
            shown = cell.value if isinstance(cell.value, str) else ""
            widths[place - 1] = max(widths[place - 1], len(shown))
            cell.alignment = Alignment(wrap_text=len(shown) > _WIDEST, vertical="top")
    for place, width in enumerate(widths, 1):
        letter = get_column_letter(place)
        sheet.column_dimensions[letter].width = min(max(width, _NARROWEST), _WIDEST) + _MARGIN
    sheet.freeze_panes = "A2"


def _put(cell: Cell, value: Any) -> None:
    value = _plain(value)
    cell.value = value
    if isinstance(value, str):
        # A text that looks like a formula stays a text, also when somebody edits the cell.
        cell.data_type = "s"
        cell.quotePrefix = value.startswith(FORMULA_STARTS)
    elif isinstance(value, float) and not value.is_integer():
        cell.number_format = "#,##0.0" if abs(value) >= 10 else "0.0###"
    elif isinstance(value, int | float):
        cell.number_format = "#,##0"


def _plain(value: Any) -> str | int | float | date | None:
    """Return a value of a table as a spreadsheet holds it."""
    if isinstance(value, str):
        return "".join(part if part in "\n\t" else printable(part) for part in value) or None
    if isinstance(value, bool | np.bool_):
        return "yes" if value else "no"
    if value is None or value is pd.NaT or value is pd.NA:
        return None
    if isinstance(value, datetime | np.datetime64):
        return pd.Timestamp(value).date()
    if isinstance(value, date):
        return value
    if isinstance(value, int | np.integer):
        return int(value)
    number = float(value)
    if math.isnan(number):
        return None
    return number if math.isfinite(number) else str(number)
