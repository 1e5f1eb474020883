"""A plan in the terminal and as a picture: the designs beside each other."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fishdown.drafts import all_or_none
from fishdown.records.problems import counted
from fishdown.records.tables import rows_of
from fishdown.terminal.tables import start_table
from fishdown.words import amount, percent, percent_with_error

if TYPE_CHECKING:
    from pathlib import Path

    import pandas as pd
    from rich.table import Table

    from fishdown.decisions.plan import Planned


FIGURE = "plan.png"
DESCRIPTION = "plan.txt"


def plan_table(planned: Planned) -> Table:
    """Lay out the designs, cheapest first."""
    numbers = ("Fish\nmarked", "Nets", "Days", "Cost")
    rest = ("Half-width of the\ninterval, %", "Right and\nfirm", "Target")
    table = start_table("Designs, the cheapest first", *numbers, *rest, right=numbers, whole=rest)
    for row in rows_of(planned.frame):
        # A width may well be above 100 %: it is no probability.
        low, median, high = (
            amount(100.0 * width)
            for width in (row.half_width_low, row.half_width_median, row.half_width_high)
        )
        table.add_row(
            f"{row.marked:,}",
            str(row.nets),
            str(row.rounds),
            f"{row.cost:,.0f}",
            f"{median} ({low}–{high})",
            percent_with_error(row.right_and_firm, row.right_and_firm_error),
            _target(row),
        )
    frame = planned.frame
    unsettled = int(frame["unsettled"].sum())
    wrong = percent(float(frame["wrong_and_firm"].max()))
    table.caption = (
        f"{counted(planned.plan.simulations, 'campaign')} simulated for each design. Half-width of "
        "the 90 % interval: relative to the median abundance, in the middle campaign and in nine "
        "of ten. Right and firm: 90 % or more on the right side of the threshold; ± is the "
        f"Monte-Carlo standard error. A firm verdict on the wrong side: {wrong} at most in any "
        f"design. Target: open where the 90 % range of the Monte-Carlo error includes it; alike "
        f"where a comparison lake by lake does not distinguish a design from the cheapest. "
        f"{counted(unsettled, 'fit')} of {frame['campaigns'].sum():,} did not settle."
    )
    return table


def _target(row: pd.Series) -> str:
    if row.cheapest:
        return "cheapest"
    return f"{row.target}, alike" if row.like_cheapest else str(row.target)


def write_plan_figure(planned: Planned, folder: str | Path) -> tuple[str, str]:
    """Write `FIGURE`, and what it shows in words, into the folder of a plan; both or neither.

    Raises
    ------
    FishdownError
        If the folder cannot be written.
    """
    from fishdown.figures.files import save_figure
    from fishdown.figures.plan import TITLE, describe

    with all_or_none(folder) as draft:
        save_figure(planned.figure(), draft / FIGURE, "png")
        words = f"{TITLE}\n{describe(planned)}\n"
        (draft / DESCRIPTION).write_text(words, encoding="utf-8")
    return FIGURE, DESCRIPTION
