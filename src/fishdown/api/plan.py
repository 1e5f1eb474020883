"""Plan a season before any fish is marked, and draw the plan."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Self

from fishdown.api.giving import giving
from fishdown.decisions.plan import PlannedSeason, plan_season
from fishdown.equality import by_value

if TYPE_CHECKING:
    from matplotlib.figure import Figure


@by_value
@dataclass(frozen=True)
class Planned(PlannedSeason):
    """A finished plan, from `fishdown.plan`.

    Attributes
    ----------
    plan, frame, runs
        As those of `fishdown.decisions.plan.PlannedSeason`.
    """

    @classmethod
    def of(cls, season: PlannedSeason) -> Self:
        """Wrap a planned season."""
        return cls(season.plan, season.frame, season.runs)

    def figure(self, palette: str = "light") -> Figure:
        """Draw precision and probability of a firm verdict of the designs against their cost.

        Parameters
        ----------
        palette : {"light", "print", "page"}
        """
        from fishdown.figures.plan import draw
        from fishdown.palette import palette_named

        return draw(self, palette=palette_named(palette))


plan = giving(Planned.of, plan_season)
