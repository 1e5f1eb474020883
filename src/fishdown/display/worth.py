"""What each next measurement is worth, lake by lake."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pandas as pd

from fishdown.display.table import ABSENT, Cell, Column, Source, Table, words
from fishdown.words import percent_with_error

if TYPE_CHECKING:
    from collections.abc import Callable

# Keeps both numbers on one line.
_ARROW = "\N{NO-BREAK SPACE}→\N{NO-BREAK SPACE}"
_WORDS = {
    "pen": (" marked fish in a pen", ""),
    "double_marks": (" double-marked fish", ""),
    "antenna": (" tags", "antenna, "),
    "second_gear": (" fish", "second gear, "),
    "weights": (" fish weighed", ""),
    "pulls": (" more pulls", ""),
}


def worth_table(worth: Source) -> Table:
    """Lay out the measurements of all lakes, the one that narrows most first."""
    frame = worth.frame
    again = frame.duplicated("lake")
    priced = bool(frame["cost"].notna().any())
    rows: list[tuple[Cell, ...]] = []
    for row in range(len(frame)):
        absent = worth.missing(row)
        ratio = words(absent)
        if not pd.isna(frame["ratio_now"].iloc[row]):
            now, then = (
                worth.number(row, name, _one_digit) for name in ("ratio_now", "ratio_expected")
            )
            ratio = Cell(((now, _ARROW, then),))
        rows.append(
            (
                words("") if again.iloc[row] else worth.words(row, "lake"),
                _measurement(worth, row),
                _with_error(worth, row, "narrower", _percent, absent),
                ratio,
                _with_error(worth, row, "firm_expected", percent_with_error, absent),
                *(_cost(worth, row, absent) if priced else ()),
            )
        )
    currency = next((name for name in frame["currency"].dropna() if name), "")
    heading = (f"Cost, {currency}", f"Narrower per\n1,000 {currency}")
    # Where there is no room for them, sentences tell the best for its cost.
    costs = (Column(one.strip(" ,"), "number", roomy=True) for one in heading)
    return Table(
        "Expected gain in precision of the biomass left by one more measurement",
        (
            Column("Lake"),
            Column("Measurement", "whole"),
            Column("Narrower by", "number"),
            Column("High over\nlow end", "number"),
            Column("Chance of a\nfirm verdict", "number"),
            *(costs if priced else ()),
        ),
        tuple(rows),
        notes=(
            "Expected before the measurement is made. High over low end: how many times as high "
            "the high end of the 90 % interval is, now and then. Narrower: by how much the "
            "interval shrinks, in factors. More pulls: the information in their catches on the "
            "fish there now; the fish that they remove are left out. Firm: surer than 90 %, below "
            "or above the threshold. ± is the standard error of the computation."
        ),
        # A lake stands once; a heading must not be empty.
        heads=0,
    )


def worth_sentences(worth: Source) -> tuple[str, ...]:
    """Say of each lake which measurement narrows most, and which narrows most for its cost."""
    frame = worth.frame
    said = []
    single = frame[frame["measurement"].notna() & (frame["measurement"] != "all")]
    for lake, rows in (
        single.reset_index(drop=True).assign(row=single.index).groupby("lake", sort=False)
    ):
        row = int(rows["row"].iloc[0])
        firm = "is firm now" if frame["firm_now"].iloc[row] else "is not firm now"
        sentence = (
            f"{lake}: the verdict {firm}. Of these, one would narrow the interval most "
            f"({_measurement(worth, row)}): by {_narrower(worth, row)}."
        )
        priced = rows[rows["narrower_per_1000"] > 0.0]
        if len(priced):
            best = int(priced["row"].iloc[int(priced["narrower_per_1000"].to_numpy().argmax())])
            currency = frame["currency"].iloc[best]
            price = f"{frame['cost'].iloc[best]:,.0f} {'' if pd.isna(currency) else currency}"
            sentence += (
                f" For its cost, {_measurement(worth, best)} would narrow it most: by "
                f"{_narrower(worth, best)} for {price.strip()}."
            )
        said.append(sentence)
    return tuple(said)


def _narrower(worth: Source, row: int) -> str:
    share, error = (
        float(worth.frame[name].iloc[row]) for name in ("narrower", "narrower_mc_error")
    )
    return _percent(share, error)


def _cost(worth: Source, row: int, absent: str) -> tuple[Cell, Cell]:
    """Return what a measurement costs, and by how much it narrows for a thousand of that."""
    frame = worth.frame
    price = worth.cell(row, "cost", show=lambda value: f"{value:,.0f}", absent=ABSENT)
    if pd.isna(frame["narrower_per_1000"].iloc[row]):
        return price, words(absent)
    per = 1_000.0 * float(frame["narrower_mc_error"].iloc[row]) / float(frame["cost"].iloc[row])
    return price, worth.cell(row, "narrower_per_1000", show=lambda share: _percent(share, per))


def _measurement(worth: Source, row: int) -> Cell:
    name = worth.frame["measurement"].iloc[row]
    if name not in _WORDS:
        return words("all together" if name == "all" else ABSENT)
    after, before = _WORDS[name]
    return Cell(((before, worth.number(row, "fish", _whole), after),))


def _with_error(
    worth: Source, row: int, name: str, show: Callable[[float, float], str], absent: str
) -> Cell:
    column = {"narrower": "narrower_mc_error", "firm_expected": "firm_mc_error"}[name]
    error = float(worth.frame[column].iloc[row])
    return worth.cell(row, name, show=lambda value: show(value, error), absent=absent)


def _percent(share: float, error: float) -> str:
    """Write a change in percent, which may be on either side of 0."""
    number = f"{100.0 * share:.0f}".replace("-0", "0").replace("-", "−")
    return f"{number} ± {max(100.0 * error, 1.0):.0f} %"


def _whole(value: float) -> str:
    return f"{value:.0f}"


def _one_digit(value: float) -> str:
    return f"{value:.1f}"
