"""A plan in words: the cheapest design that is enough, the next-best, and how sure that is."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from fishdown.decisions.plan_design import WEIGHED
from fishdown.intervals import INTERVAL
from fishdown.words import amount, counted, percent, percent_with_error

if TYPE_CHECKING:
    import pandas as pd

    from fishdown.decisions.plan_design import Plan

# Designs that a sentence names, at most.
MOST_NAMED = 3
# Campaigns of a design that hardly anybody has the time for (our judgement).
TOO_MANY = 2_000
MESSY = (
    "Marks are lost, overlooked and on fish that die or are shy or bold; nights, nets and catches "
    "differ; catchability drifts; fish die, arrive and grow; nets select by size."
)
PLAIN = "Nothing goes wrong in these lakes: this is the best case."


def sentences(plan: Plan, frame: pd.DataFrame) -> str:
    """State the design to choose, what the next-best costs more, and how certain that is."""
    best = frame[frame["cheapest"]]
    said = _without_best(plan, frame) if best.empty else _with_best(plan, frame, best.iloc[0])
    return f"{said} {PLAIN}" if plan.worlds == "plain" else said


def _with_best(plan: Plan, frame: pd.DataFrame, best: pd.Series) -> str:
    width, narrow, wide = (
        amount(100.0 * best[f"half_width_{point}"]) for point in ("median", "low", "high")
    )
    firm = percent_with_error(best["right_and_firm"], best["right_and_firm_error"])
    wanted = _wanted(plan)
    return (
        f"{wanted[0].upper()}{wanted[1:]}, the cheapest design is: {design(best)}. The final "
        f"verdict is right and firm with a probability of {firm}, and the half-width of the 90 % "
        f"interval of abundance is {width} % of the median ({narrow} to {wide} % in nine campaigns "
        f"of ten).{_held(best)}"
        f"{_next_best(frame, best)}{_sure(frame, best)}{_alike(frame, best)}"
    )


def _held(row: pd.Series) -> str:
    """Say so if the intervals of a design hold the truth less often than they claim."""
    from fishdown.decisions.plan_compare import ERRORS

    held = float(row["inside_share"])
    error = math.sqrt(held * (1.0 - held) / row["campaigns"])
    if held + ERRORS * error >= INTERVAL:
        return ""
    return (
        f" In these lakes it is too narrow: it holds the true abundance in "
        f"{percent_with_error(held, error)} of the campaigns, not in {percent(INTERVAL)}."
    )


def _next_best(frame: pd.DataFrame, best: pd.Series) -> str:
    following = frame[frame["next_best"]]
    if following.empty:
        return " No other design is sure to be enough."
    row = following.iloc[0]
    if not row["cost"] > 0:
        return f" The next-best: {design(row)}."
    more = row["cost"] - best["cost"]
    costs = f"{more:,.0f} {row['currency']}".rstrip() + " more" if more > 0 else "as much"
    return f" The next-best costs {costs}: {design(row)}."


def _sure(frame: pd.DataFrame, best: pd.Series) -> str:
    """State the probability that the cheapest is the cheapest, where no cheaper one is open."""
    cheaper = frame[frame["cost"] < best["cost"]]
    if (cheaper["target"] == "open").any():
        return ""
    right = max(best["meets_target"] - cheaper["may_meet_target"].sum(), 0.0)
    return (
        f" By these campaigns the probability that it is enough and no cheaper one is, is at least "
        f"{percent(right)}."
    )


def _alike(frame: pd.DataFrame, best: pd.Series) -> str:
    """Name cheaper designs that may meet the target, and others not distinguished from it."""
    others = frame[~frame["cheapest"]]
    cheaper = others[(others["cost"] <= best["cost"]) & (others["target"] == "open")]
    like = others[others["like_cheapest"] & ~others.index.isin(cheaper.index)]
    said = ""
    if len(cheaper):
        said += (
            " Within simulation error it is undecided whether these, which cost no more, are also "
            f"enough: {_listed(cheaper)}.{_more(cheaper)}"
        )
    if len(like):
        said += f" As good within simulation error, compared lake by lake: {_listed(like)}."
    return said


def _without_best(plan: Plan, frame: pd.DataFrame) -> str:
    still = frame[frame["target"] == "open"]
    if still.empty:
        return (
            f"None of the {len(frame)} designs is enough {_wanted(plan)}; allow more marks, nets, "
            "rounds or evidence, or a weaker target."
        )
    return (
        f"Within simulation error it is undecided whether any design is enough {_wanted(plan)}. "
        f"The cheapest that may be: {design(still.iloc[0])}.{_more(still)}"
    )


def _more(still: pd.DataFrame) -> str:
    """State how many campaigns would probably decide it, for the middle one of several."""
    needed = still["campaigns_needed"].dropna().astype(float)
    if needed.empty or needed.median() > TOO_MANY:
        return " This is so near to the target that more campaigns would hardly decide it."
    which = "it" if len(still) == 1 else "half of them"
    return (
        f" About {needed.median():,.0f} campaigns each would decide {which} (most_simulations in "
        "the plan file)."
    )


def _wanted(plan: Plan) -> str:
    parts = []
    if plan.half_width is not None:
        parts.append(
            f"for an interval of at most {100 * plan.half_width:.3g} % to either side in the "
            "middle campaign"
        )
    if plan.right_and_firm is not None:
        parts.append(f"to be {100 * plan.right_and_firm:.3g} % sure of a right and firm verdict")
    return " and ".join(parts)


def campaigns_each(frame: pd.DataFrame) -> str:
    """Say how many campaigns the designs have."""
    fewest, most = frame["campaigns"].min(), frame["campaigns"].max()
    return counted(most, "campaign") if fewest == most else f"{fewest:,} to {most:,} campaigns"


def design(row: pd.Series) -> str:
    """Say what a design is, and what it costs."""
    marks = f"mark {row['marked']:,} fish"
    if row["double_marked"]:
        twice = "all" if row["double_marked"] == row["marked"] else f"{row['double_marked']:,}"
        marks += f" ({twice} with two marks)"
    parts = [marks]
    if row["penned"]:
        parts.append(f"keep {row['penned']:,} more in a pen")
    if row["antenna_nights"]:
        parts.append(f"listen with an antenna on {counted(row['antenna_nights'], 'night')}")
    if row["surveyed"]:
        parts.append(f"look at {row['surveyed']:,} fish of another gear")
    if row["weighed"] != WEIGHED:
        parts.append(f"weigh {row['weighed']:,} fish")
    pulls = f"pull {counted(row['nets'], 'net')} on {counted(row['rounds'], 'day')}"
    cost = f" for {row['cost']:,.0f} {row['currency']}".rstrip() if row["cost"] > 0 else ""
    return f"{', '.join(parts)} and {pulls}{cost}"


def evidence(row: pd.Series) -> str:
    """Name a design's evidence beside marks and catches, short."""
    named = {
        "double_marked": "two marks {}",
        "penned": "pen {}",
        "antenna_nights": "antenna {} nights",
        "surveyed": "other gear {}",
    }
    parts = [text.format(f"{row[name]:,}") for name, text in named.items() if row[name]]
    if row["weighed"] != WEIGHED:
        parts.append(f"weighed {row['weighed']:,}")
    return ", ".join(parts)


def _listed(designs: pd.DataFrame) -> str:
    """Name the cheapest few designs."""
    named = [design(row) for _, row in designs.head(MOST_NAMED).iterrows()]
    more = len(designs) - len(named)
    return "; ".join([*named, *([f"and {more} more"] if more else [])])
