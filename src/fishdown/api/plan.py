"""Plan a season before any fish is marked, and draw the plan."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Self

from fishdown.decisions.plan import PlannedSeason, plan_season
from fishdown.equality import by_value

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from matplotlib.figure import Figure

    from fishdown.decisions.plan_campaign import Refit
    from fishdown.decisions.plan_file import Plan
    from fishdown.posterior.sampling import SamplerSettings


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


def plan(
    asked: str | Path | Plan,
    out: str | Path,
    *,
    settings: SamplerSettings | None = None,
    cores: int = 1,
    scheduler: str | None = None,
    refit: Refit | None = None,
    on_progress: Callable[[int, int], None] | None = None,
) -> Planned:
    """Simulate every design of a plan file, refit it, and find the cheapest that is enough.

    Parameters
    ----------
    asked : path or Plan
    out : path
        Folder for `plan.csv`, and for `plan_campaigns.jsonl`, to which each simulated campaign is
        added as it is done: an interrupted call continues from there.
    settings : SamplerSettings, optional
        By default two chains of 300 draws after 500 of tuning. The chains of a campaign are
        sampled one after the other.
    cores : int
        Processes on this machine, each with campaigns of its own. The plan is the same with any
        number.
    scheduler : str, optional
        Address of a Dask scheduler, to use its workers instead.
    refit : callable, optional
        In place of sampling: takes a campaign and a seed, returns draws of fish before netting
        and of kg/ha after it, shape (chain, draw). A function that can be pickled, unless this
        process does all.
    on_progress : callable, optional
        Called with campaigns done and campaigns in all; first with those that were kept.

    Raises
    ------
    PlanError
        With everything that is wrong in the file, or if `out` holds another plan's campaigns or
        cannot be written to.
    FitError
        If the cluster cannot be reached, or a process or worker is lost.
    """
    return Planned.of(
        plan_season(
            asked,
            out,
            settings=settings,
            cores=cores,
            scheduler=scheduler,
            refit=refit,
            on_progress=on_progress,
        )
    )
