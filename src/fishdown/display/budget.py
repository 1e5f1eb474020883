"""One budget for several lakes: the best split lake by lake, and other splits beside it."""

from __future__ import annotations

import pandas as pd

from fishdown.decisions.budget_words import days_in_each
from fishdown.display.fitted import BIOMASS
from fishdown.display.table import ABSENT, Cell, Column, Source, Table, whole, words
from fishdown.labels import ALL_LAKES
from fishdown.units import shown_change
from fishdown.words import percent_with_error, with_error

CATCH = ("catch_median", "catch_low", "catch_high")
# As in the column `split`.
NAMES = {
    "best": "best",
    "equal": "equal",
    "nearest": "nearest lake first",
    "none": "no more netting",
}


def budget_table(budget: Source, shared: str) -> Table:
    """Lay out the best split, a row a lake and one of all lakes.

    Parameters
    ----------
    shared : str
        What there was to be shared out, in words.
    """
    frame = budget.frame
    rows = [row for row in range(len(frame)) if frame["split"].iloc[row] == "best"]
    costs = bool(frame["cost"].notna().any())
    cells = []
    for row in rows:
        every = frame["lake"].iloc[row] == ALL_LAKES
        absent = ABSENT if every else budget.missing(row)
        cells.append(
            (
                budget.words(row, "lake"),
                _days(budget, row),
                budget.cell(row, "pulls", show=whole),
                *([budget.cell(row, "cost", show=whole)] if costs else []),
                budget.cell(row, CATCH, show=whole, absent=absent),
                budget.cell(row, BIOMASS, absent=absent),
                _chance(budget, row, "probability_below_now", "now_mc_error", absent),
                _lakes(budget, row, ("lakes",))
                if every
                else _chance(budget, row, "probability_below", "mc_error", absent),
            )
        )
    numbers = (
        "Field\ndays",
        "Pulls",
        *([_cost(frame)] if costs else []),
        "Catch,\nfish",
        "Left,\nkg/ha",
        "Below\nnow, %",
        "Below\nthen, %",
    )
    return Table(
        f"Best split of {shared}: medians and 90 % credible intervals",
        (Column("Lake"), *(Column(heading, "number") for heading in numbers)),
        tuple(cells),
        "In the second line of field days: range among the splits found that the draws do not "
        "distinguish from the best. Below, %: probability of less than the threshold; of all "
        "lakes, the expected number of lakes below. ± is the Monte-Carlo standard error.",
        heads=1,
    )


def splits_table(budget: Source) -> Table:
    """Lay out the splits beside each other."""
    frame = budget.frame
    costs = bool(frame["cost"].notna().any())
    rows = []
    for row in range(len(frame)):
        if frame["lake"].iloc[row] != ALL_LAKES or pd.isna(frame["lakes_below"].iloc[row]):
            continue
        split = str(frame["split"].iloc[row])
        rows.append(
            (
                words(NAMES[split]),
                words(_by_lake(frame, split)),
                *([budget.cell(row, "cost", show=whole)] if costs else []),
                _lakes(budget, row),
                _kg(budget, row, "kg_above"),
                _short(budget, row),
            )
        )
    numbers = ("Lakes\nbelow", "Above,\nkg", "Short of\nthe best")
    return Table(
        "Splits beside each other: expected lakes below, and kg above, their thresholds",
        (
            Column("Split"),
            Column("Field days"),
            *([Column(_cost(frame), "number")] if costs else []),
            *(Column(heading, "number") for heading in numbers),
        ),
        tuple(rows),
        "± is the Monte-Carlo standard error, of differences draw by draw. Short of the best: "
        "judged by draws that did not choose the best. Within error: no more than two standard "
        "errors.",
        heads=1,
        dense=True,
    )


def _cost(frame: pd.DataFrame) -> str:
    named = frame["currency"].iloc[0]
    return f"Cost,\n{named}" if isinstance(named, str) and named else "Cost"


def _days(budget: Source, row: int) -> Cell:
    days = budget.number(row, "field_days", whole)
    ends = [budget.frame[name].iloc[row] for name in ("field_days_low", "field_days_high")]
    if pd.isna(ends[0]) or ends[0] == ends[1]:
        return Cell(((days,),))
    low, high = (budget.number(row, f"field_days_{end}", whole) for end in ("low", "high"))
    return Cell(((days,), (low, "–", high)))


def _chance(budget: Source, row: int, name: str, error: str, absent: str) -> Cell:
    spread = float(budget.frame[error].iloc[row])

    def short(chance: float) -> str:
        text = percent_with_error(chance, spread).removesuffix(" %")
        return text.replace("more than ", ">").replace("less than ", "<")

    return budget.cell(row, name, show=short, absent=absent)


def _lakes(budget: Source, row: int, *below: tuple[str]) -> Cell:
    if pd.isna(budget.frame["lakes_below"].iloc[row]):
        return words(ABSENT)
    error = float(budget.frame["lakes_below_mc_error"].iloc[row])
    return Cell(((budget.number(row, "lakes_below", lambda n: with_error(n, error)),), *below))


def _kg(budget: Source, row: int, name: str) -> Cell:
    error = shown_change(float(budget.frame[f"{name}_mc_error"].iloc[row]), "kg")
    return budget.cell(row, name, show=lambda kg: with_error(kg, error))


def _short(budget: Source, row: int) -> Cell:
    frame = budget.frame
    told = frame["told_apart"].iloc[row]
    if pd.isna(told):
        return words(ABSENT)
    if not told:
        same = bool((frame[["lakes_behind_best", "kg_behind_best"]].iloc[row] == 0.0).any())
        return words("the same" if same else "within error")
    if frame["aim"].iloc[row] == "biomass":
        return _kg(budget, row, "kg_behind_best")
    error = float(frame["lakes_behind_best_mc_error"].iloc[row])
    return budget.cell(row, "lakes_behind_best", show=lambda lakes: with_error(lakes, error))


def _by_lake(frame: pd.DataFrame, split: str) -> str:
    rows = frame[(frame["split"] == split) & (frame["lake"] != ALL_LAKES)]
    if alike := days_in_each(rows["field_days"].tolist()):
        return alike
    given = zip(rows["lake"], rows["field_days"], strict=True)
    return ", ".join(f"{days:,} {lake}" for lake, days in given if days) or "none"
