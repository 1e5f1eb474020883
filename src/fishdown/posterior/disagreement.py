"""Comparison of the mark–recapture and depletion estimates of a season, as a fit holds it.

`fishdown.checks.evidence` makes it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from fishdown.posterior.codes import Difference
from fishdown.sentences import Said

if TYPE_CHECKING:
    import xarray as xr

KINDS = ("marks", "depletion", "both")
POINTS = ("low", "median", "high")
# Below this the statement is withheld; below the other it carries a remark.
CONFLICT = 0.01
DOUBT = 0.05


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

    @property
    def said(self) -> Said | None:
        """The difference and its likely causes; None where both estimates are consistent."""
        if not self.tail_probability < DOUBT:
            return None
        code = Difference.MORE_BY_MARKS if self.more_by_marks else Difference.MORE_BY_DEPLETION
        values = {"conflict": self.conflict, "tail_probability": self.tail_probability}
        return Said(code, values)


def disagreement(evidence: xr.Dataset, season: int) -> Disagreement:
    """Return the comparison of mark–recapture and depletion in one season."""
    median = evidence["abundance"].sel(point="median").isel(season=season)
    return Disagreement(
        tail_probability=float(evidence["tail_probability"].isel(season=season)),
        more_by_marks=bool(median.sel(evidence="marks") > median.sel(evidence="depletion")),
    )
