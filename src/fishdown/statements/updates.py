"""How new pulls were added to a fit, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from fishdown.words import counted

if TYPE_CHECKING:
    from collections.abc import Mapping


def how_taken_up(entry: Mapping[str, Any]) -> str:
    """Summarise how an update was made.

    Parameters
    ----------
    entry : mapping
        ``run["update"]`` of the updated fit.
    """
    new = entry.get("new_pulls")
    came = "" if new is None else f"{counted(new, 'new pull')}. "
    match entry["how"]:
        case "unchanged":
            return "No new pulls: the fit is unchanged."
        case "reweighted":
            before, left = entry["draws"]
            return (
                f"{came}Reweighted, not fitted again: Pareto k {entry['pareto_k']:.2f}, reliable "
                f"up to {entry['limit']:.2f}; {left:,} of {before:,} draws are left. A reweighted "
                "fit has no posterior predictive checks; fishdown fit makes them."
            )
        case _:
            return f"{came}Fitted again, not reweighted: {entry['why']}."
