"""Comparison of the mark–recapture and depletion estimates of a season, as a fit holds it.

`fishdown.checks.evidence` makes it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from fishdown.words import percent

if TYPE_CHECKING:
    import xarray as xr

KINDS = ("marks", "depletion", "both")
POINTS = ("low", "median", "high")
# Below this the statement is withheld; below the other it carries a remark.
CONFLICT = 0.01
DOUBT = 0.05

MORE_BY_MARKS = (
    "lost or overlooked marks, trap-shy marked fish, fish not vulnerable to the gear, fish leaving "
    "the lake, or local depletion around the nets"
)
MORE_BY_DEPLETION = (
    "trap-happy marked fish, incomplete mixing of marked with unmarked fish, fish entering the "
    "lake, or catches that rose for another reason"
)


@dataclass(frozen=True)
class Disagreement:
    """Comparison of the mark–recapture and depletion estimates of one season.

    Attributes
    ----------
    tail_probability : float
        Two-sided, of the difference; NaN where one estimate is missing.
    more_by_marks : bool
        Whether the mark–recapture estimate exceeds the depletion estimate.
    """

    tail_probability: float
    more_by_marks: bool

    @property
    def conflict(self) -> bool:
        """Whether a statement must be withheld."""
        return self.tail_probability < CONFLICT

    def sentence(self) -> str:
        """State the difference and its likely causes; empty where both estimates are consistent."""
        if not self.tail_probability < DOUBT:
            return ""
        causes = MORE_BY_MARKS if self.more_by_marks else MORE_BY_DEPLETION
        order = "exceeds" if self.more_by_marks else "is below"
        strength = "contradict each other" if self.conflict else "are barely consistent"
        shown = percent(self.tail_probability)
        return (
            f"the mark–recapture and depletion estimates {strength} (tail probability of the "
            f"difference {shown}): the mark–recapture estimate {order} the depletion estimate; "
            f"likely causes: {causes}"
        )


def disagreement(evidence: xr.Dataset, season: int) -> Disagreement:
    """Return the comparison of mark–recapture and depletion in one season."""
    median = evidence["abundance"].sel(point="median").isel(season=season)
    return Disagreement(
        tail_probability=float(evidence["tail_probability"].isel(season=season)),
        more_by_marks=bool(median.sel(evidence="marks") > median.sel(evidence="depletion")),
    )
