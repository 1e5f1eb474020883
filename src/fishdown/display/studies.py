"""Tables from many fits: designs of a season, temperature–catchability curves, calibration."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fishdown.decisions.plan_words import MESSY, PLAIN, campaigns_each
from fishdown.display.table import Cell, Column, Source, Table, words
from fishdown.intervals import INTERVAL
from fishdown.records.tables import rows_of
from fishdown.words import counted, percent, percent_with_error, with_error

if TYPE_CHECKING:
    import pandas as pd

    from fishdown.calibration.study import Calibration
    from fishdown.checks.shapes import ShapeComparison
    from fishdown.decisions.plan import PlannedSeason

FEW_GROUPS = 100
WIDTHS = ("half_width_median", "half_width_low", "half_width_high")
# Of a design: the heading of a column, and the words where all designs have the same.
PARTS = {
    "marked": ("Fish\nmarked", "{} fish marked"),
    "double_marked": ("Two\nmarks", "{} of them with two marks"),
    "penned": ("In a\npen", "{} marked fish in a pen"),
    "antenna_nights": ("Antenna\nnights", "{} nights of an antenna"),
    "surveyed": ("Other\ngear", "{} fish of another gear"),
    "weighed": ("Fish\nweighed", "{} fish weighed"),
    "nets": ("Nets", "nets: {}"),
    "rounds": ("Days", "days: {}"),
}
BARE = ("marked", "nets", "rounds")
MANY_PARTS = 5


def plan_table(planned: PlannedSeason) -> Table:
    """Lay out the designs, cheapest first; what all of them have is said in the notes."""
    frame = planned.frame
    designs = Source("plan", frame)
    shown = _shown(frame)
    # A terminal has no room for ranges beside so many parts, or for widths beside more.
    many = len(shown) >= MANY_PARTS
    widths, heading = (
        (WIDTHS[:1], "Half-\nwidth, %") if many else (WIDTHS, "Half-width of\ninterval, %")
    )
    rows: list[tuple[Cell, ...]] = []
    for place, row in enumerate(rows_of(frame)):
        right = percent_with_error(row.right_and_firm, row.right_and_firm_error)
        counts = [f"{getattr(row, name):,.0f}" for name in (*shown, "cost")]
        # A width may well be above 100 %: it is no probability.
        width = designs.cell(place, widths, times=100.0)
        rows.append((*map(words, counts), width, words(right), words(_target(row))))
    wrong = percent(float(frame["wrong_and_firm"].max()))
    return Table(
        "Designs, cheapest first",
        (
            *(Column(PARTS[name][0], "number") for name in shown),
            Column("Cost", "number"),
            Column(heading, "whole", roomy=len(shown) > MANY_PARTS),
            Column("Right and\nfirm", "whole"),
            Column("Target"),
        ),
        tuple(rows),
        f"{_alike(frame, shown)}{campaigns_each(frame)} simulated for each design. "
        f"{MESSY if planned.plan.worlds == 'messy' else PLAIN} Half-width of the 90 % interval: "
        "relative to the median abundance, in the middle campaign and in nine of ten. Right and "
        "firm: 90 % or more on the right side of the threshold; ± is the "
        f"Monte-Carlo standard error. A firm verdict on the wrong side: {wrong} at most in any "
        f"design. Target: open where the probability that it is met is between 5 and 95 %; next: "
        "the next-best; alike where a comparison lake by lake does not distinguish a design from "
        "the cheapest. "
        "The interval holds the true abundance in "
        f"{percent(float(frame['inside_share'].min()))} of the campaigns at the least. "
        f"{counted(int(frame['unsettled'].sum()), 'fit')} of {frame['campaigns'].sum():,} did not "
        "converge.",
        dense=True,
    )


def _shown(frame: pd.DataFrame) -> list[str]:
    """Return the parts of designs that have a column: those that differ, if evidence is offered."""
    differ = [name for name in PARTS if frame[name].nunique() > 1]
    return differ if set(differ) - set(BARE) else list(BARE)


def _alike(frame: pd.DataFrame, shown: list[str]) -> str:
    """Say what all designs have that has no column."""
    first = frame.iloc[0]
    named = [
        text.format(f"{first[name]:,}")
        for name, (_, text) in PARTS.items()
        if name not in shown and first[name] > 0
    ]
    return f"All designs: {', '.join(named)}. "


def _target(row: pd.Series) -> str:
    if row.cheapest:
        return "cheapest"
    if row.next_best:
        return "met, next, alike" if row.like_cheapest else "met, next"
    return f"{row.target}, alike" if row.like_cheapest else str(row.target)


def shapes_table(found: ShapeComparison) -> Table:
    """Lay out `ShapeComparison.frame`."""
    left_out = f"{found.leave_out}s"
    rows = []
    for row in rows_of(found.frame()):
        best = row.shape == found.best
        texts = (
            row.shape if row.gate == "passed" else f"{row.shape} (gate failed)",
            with_error(row.score, row.score_se),
            "best" if best else with_error(row.behind, row.behind_se),
            f"{row.unreliable} of {row.groups} (k up to {row.largest_k:.2f})",
        )
        rows.append(tuple(map(words, texts)))
    limit = next(iter(found.scores.values())).limit
    notes = (
        "Log score: sum of log predictive densities (natural logarithm). ± is the standard error. "
        f"Unreliable: Pareto k above {limit:.2f}."
    )
    if len(found.groups) < FEW_GROUPS:
        notes += f" With fewer than {FEW_GROUPS} {left_out} the standard errors are rough."
    return Table(
        f"Predictive accuracy of each temperature–catchability curve for left-out {left_out}",
        (
            Column("Curve"),
            Column("Log score", "number"),
            Column("Below the best", "number"),
            Column(f"Unreliable {left_out}"),
        ),
        tuple(rows),
        notes,
    )


def calibration_table(found: Calibration) -> Table:
    """Lay out `Calibration.table`."""
    told = list(rows_of(found.table()))
    rows = []
    for row in told:
        texts = (
            row.quantity.replace("_", " "),
            with_error(row.mean_place, row.mean_place_error),
            f"{row.held_by_90 * row.simulations:.0f} of {row.simulations}",
            row.outcome,
        )
        rows.append(tuple(map(words, texts)))
    notes = (
        "± is the standard error. The 90 % interval of a calibrated model covers "
        f"{with_error(100 * INTERVAL, 100 * told[0].mc_error)} % of the truths."
        if told
        else ""
    )
    return Table(
        "Rank of the truth among the draws: for a calibrated model ½ on average, coverage 90 %",
        (
            Column("Quantity"),
            Column("Mean rank", "number"),
            Column("90 % coverage", "number"),
            Column("Outcome"),
        ),
        tuple(rows),
        notes,
    )
