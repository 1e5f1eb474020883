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
    plan : Plan
    frame : pandas.DataFrame
        Columns `COLUMNS`, a row a design, cheapest first. ``half_width`` is that of the 90 %
        interval of abundance relative to its median: the middle campaign, and the range of nine
        in ten. ``inside_share``: how often that interval held the truth. ``right_and_firm``:
        chance of a final verdict of 90 % or more on the right side, with its Monte-Carlo
        standard error; ``wrong_and_firm``: on the wrong side. ``unsettled``: campaigns whose
        chains did not agree. ``target``: ``met``, ``missed``, or ``open`` where the Monte-Carlo
        error leaves both. ``cheapest``: of those that meet it. ``like_cheapest``: designs that
        the campaigns, compared lake by lake, do not distinguish from that one as to the target.
    runs : tuple of Run
    """

    @classmethod
    def of(cls, season: PlannedSeason) -> Self:
        """Wrap a planned season.

        Parameters
        ----------
        season : PlannedSeason
        """
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
