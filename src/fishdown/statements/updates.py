"""How pulls that came after a fit were taken up, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from fishdown.records.problems import counted

if TYPE_CHECKING:
    from collections.abc import Mapping


def how_taken_up(entry: Mapping[str, Any]) -> str:
    """Say how an update went.

    Parameters
    ----------
    entry : mapping
        ``run["update"]`` of the updated fit.
    """
    new = entry.get("new_pulls")
    came = "" if new is None else f"{counted(new, 'new pull')}. "
    match entry["how"]:
        case "unchanged":
            return "No pull came since: the fit stays as it was."
        case "reweighted":
            before, left = entry["draws"]
            return (
                f"{came}Reweighted, not fitted again: Pareto k {entry['pareto_k']:.2f}, to be "
                f"trusted up to {entry['limit']:.2f}; {left:,} of {before:,} draws are left. A "
                "reweighted fit is not held against its own records; fishdown fit does that."
            )
        case _:
            return f"{came}Fitted again, not reweighted: {entry['why']}."
