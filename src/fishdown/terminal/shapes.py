"""The comparison of shapes of the effect of temperature, for the terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rich import box
from rich.table import Table

from fishdown.records.tables import rows_of
from fishdown.words import with_error

if TYPE_CHECKING:
    from fishdown.checks.shapes import ShapeComparison

FEW_GROUPS = 100


def shape_table(found: ShapeComparison) -> Table:
    """Lay out `ShapeComparison.frame`."""
    left_out = f"{found.leave_out}s"
    table = Table(
        title=f"How well each shape predicts {left_out} that it has not seen",
        title_justify="left",
        title_style="bold",
        caption_justify="left",
        caption_style="",
        box=box.SIMPLE_HEAD,
        pad_edge=False,
    )
    table.add_column("Shape of the cold", overflow="fold")
    table.add_column("Log score", justify="right", no_wrap=True)
    table.add_column("Behind the best", justify="right", no_wrap=True)
    table.add_column(f"{left_out.capitalize()} not to be trusted")
    for row in rows_of(found.frame()):
        best = row.shape == found.best
        table.add_row(
            row.shape if row.gate == "passed" else f"{row.shape} (gate failed)",
            with_error(row.score, row.score_se),
            "best" if best else with_error(row.behind, row.behind_se),
            f"{row.unreliable} of {row.groups} (k up to {row.largest_k:.2f})",
        )
    limit = next(iter(found.scores.values())).limit
    caption = (
        "Log score: sum of log predictive densities (natural logarithm). ± is the standard error. "
        f"Not to be trusted: Pareto k above {limit:.2f}."
    )
    if len(found.groups) < FEW_GROUPS:
        caption += f" With fewer than {FEW_GROUPS} {left_out} the standard errors are rough."
    table.caption = caption
    return table
