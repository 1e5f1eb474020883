"""Plan a season before any fish is marked: simulate designs, refit them, take the cheapest."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from fishdown.atomic_write import all_or_none
from fishdown.decisions.plan_campaign import MODEL, Job, Run, campaign_row, wrong_row
from fishdown.decisions.plan_compare import Tried, campaigns_to_tell, more_campaigns
from fishdown.decisions.plan_design import Plan
from fishdown.decisions.plan_file import read_plan
from fishdown.decisions.plan_words import sentences
from fishdown.decisions.plan_worlds import strengths
from fishdown.equality import by_value
from fishdown.errors import PlanError
from fishdown.intervals import low_median_high
from fishdown.results_log import ResultsLog
from fishdown.spreadsheet import write_csv
from fishdown.version import __version__

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from fishdown.decisions.plan_campaign import Refit
    from fishdown.posterior.sampling import SamplerSettings

    type Flags = np.ndarray[Any, np.dtype[np.bool_]]

TABLE, LOG = "plan.csv", "plan_campaigns.jsonl"
FIRM = 0.9
COLUMNS = (
    "marked", "double_marked", "penned", "antenna_nights", "surveyed", "weighed", "nets", "rounds",
    "pulls", "cost", "currency", "worlds", "campaigns", "half_width_median", "half_width_low",
    "half_width_high", "inside_share", "right_and_firm", "right_and_firm_error", "wrong_and_firm",
    "unsettled", "target", "meets_target", "may_meet_target", "campaigns_needed", "cheapest",
    "next_best", "like_cheapest", "seed"
)  # fmt: skip


@by_value
@dataclass(frozen=True)
class PlannedSeason:
    """A finished plan.

    Attributes
    ----------
    plan : Plan
    frame : pandas.DataFrame
        Columns `COLUMNS`, a row a design, cheapest first. ``half_width`` is that of the 90 %
        interval of abundance relative to its median: the middle campaign, and the range of nine
        in ten. ``inside_share``: how often that interval held the truth. ``right_and_firm``:
        chance of a final verdict of 90 % or more on the right side, with its Monte-Carlo
        standard error; ``wrong_and_firm``: on the wrong side. ``unsettled``: campaigns whose
        chains did not converge, and whose verdict is withheld. ``target``: ``met``, ``missed``, or
        ``open`` where the Monte-Carlo error leaves both; ``meets_target`` and
        ``may_meet_target`` are limits of the probability that it is met, ``campaigns_needed`` a
        guess at how many would decide it. ``cheapest``, ``next_best``: of those that meet it.
        ``like_cheapest``: designs that the campaigns, compared lake by lake, do not distinguish
        from the cheapest as to the target, and that do not miss it.
    runs : tuple of Run
    """

    plan: Plan
    frame: pd.DataFrame
    runs: tuple[Run, ...]

    def sentence(self) -> str:
        """State the design to choose, what the next-best costs more, and how certain that is."""
        return sentences(self.plan, self.frame)


def plan_season(
    asked: str | Path | Plan,
    out: str | Path,
    *,
    settings: SamplerSettings | None = None,
    cores: int = 1,
    scheduler: str | None = None,
    refit: Refit | None = None,
    on_progress: Callable[[int, int], None] | None = None,
) -> PlannedSeason:
    """Simulate every design of a plan file, refit it, and find the cheapest that is enough.

    Parameters
    ----------
    asked : path or Plan
    out : path
        Folder for `plan.csv`, and for `plan_campaigns.jsonl`, to which each simulated campaign is
        added as it is done: an interrupted call continues from there. Designs that more campaigns
        may decide have more than the others.
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
        Called with campaigns done and campaigns asked for so far; first with those that were kept.

    Returns
    -------
    PlannedSeason
        From `fishdown.plan` as a `Planned`, which draws itself too.

    Raises
    ------
    PlanError
        With everything that is wrong in the file, or if `out` holds another plan's campaigns or
        cannot be written to.
    FitError
        If the cluster cannot be reached, or a process or worker is lost.
    """
    from fishdown.posterior.sampling import SamplerSettings

    wanted = asked if isinstance(asked, Plan) else read_plan(asked)
    if cores < 1:
        raise PlanError(f"cores = {cores}: write a whole number, 1 or more")
    job = Job(wanted, settings or SamplerSettings(draws=300, tune=500, chains=2), refit)
    folder = Path(out)
    runs = _all_runs(job, folder / LOG, cores, scheduler, on_progress)
    frame = summary(wanted, runs)
    with all_or_none(folder, refusal=PlanError) as staged:
        write_csv(frame, staged / TABLE)
    return PlannedSeason(wanted, frame, tuple(runs))


def _all_runs(
    job: Job,
    path: Path,
    cores: int,
    scheduler: str | None,
    on_progress: Callable[[int, int], None] | None,
) -> list[Run]:
    """Do the campaigns of all designs, and then stage by stage those that are worth more."""
    how = {name: value for name, value in job.settings.entry().items() if name != "cores"}
    told = job.plan.fingerprint(__version__, MODEL, how, strengths(job.plan))
    log = ResultsLog(path, {"study": "plan", "plan and settings": told}, wrong_row, PlanError)
    campaigns = np.full(len(job.plan.candidates), job.plan.simulations)
    while True:
        # A stage is drawn up by what the stages before it found, in a plan that goes on, too.
        tasks = [
            (simulation, candidate)
            for simulation in range(campaigns.max())
            for candidate in np.flatnonzero(campaigns > simulation).tolist()
        ]
        rows = log.complete(
            partial(campaign_row, job),
            tasks,
            cores=cores,
            scheduler=scheduler,
            on_progress=on_progress,
        )
        runs = [
            Run(candidate=candidate, simulation=simulation, **row)
            for (simulation, candidate), row in zip(tasks, rows, strict=True)
        ]
        more = more_campaigns(job.plan, _tried(job.plan, runs))
        if not any(more):
            return runs
        campaigns = campaigns + more


def summary(plan: Plan, runs: list[Run]) -> pd.DataFrame:
    """Tabulate the designs, cheapest first."""
    rows = []
    all_tried = _tried(plan, runs)
    for design, own, tried in zip(plan.candidates, _by_design(plan, runs), all_tried, strict=True):
        chance, error = tried.chance
        least, most = (min(max(one, 1e-3), 1.0 - 1e-3) for one in tried.meets(plan))
        low, middle, high = low_median_high(tried.half_width)
        rows.append(
            {
                **asdict(design),
                "pulls": design.nets * design.rounds,
                "cost": plan.cost(design),
                "currency": plan.currency,
                "worlds": plan.worlds,
                "campaigns": len(own),
                "half_width_median": middle,
                "half_width_low": low,
                "half_width_high": high,
                "inside_share": _chance(np.array([r.low <= r.fish <= r.high for r in own])),
                "right_and_firm": chance,
                "right_and_firm_error": error,
                "wrong_and_firm": _chance(firm(plan, own)[1]),
                "unsettled": sum(1 - run.settled for run in own),
                "target": tried.target(plan),
                "meets_target": least,
                "may_meet_target": most,
                "campaigns_needed": campaigns_to_tell(tried, plan),
                "seed": plan.seed,
            }
        )
    frame = pd.DataFrame(rows).sort_values(["cost", "pulls", "marked"])
    met = frame["target"] == "met"
    frame["cheapest"] = met & (met.cumsum() == 1)
    frame["next_best"] = met & (met.cumsum() == 2)
    frame["campaigns_needed"] = frame["campaigns_needed"].astype("Int64")
    best = frame.index[frame["cheapest"]].tolist()
    # The index is still the place among the candidates. Few lakes of its own may hide how far one
    # that misses the target is from one that meets it.
    frame["like_cheapest"] = [
        any(place != one and all_tried[place].like(all_tried[one], plan) for one in best)
        for place in frame.index
    ]
    frame["like_cheapest"] &= frame["target"] != "missed"
    frame = frame.reset_index(drop=True)
    return frame[list(COLUMNS)]


def _by_design(plan: Plan, runs: Sequence[Run]) -> list[list[Run]]:
    """Return the campaigns of each design, by simulated lake."""
    found: list[list[Run]] = [[] for _ in plan.candidates]
    for run in sorted(runs, key=lambda run: run.simulation):
        found[run.candidate].append(run)
    return found


def _tried(plan: Plan, runs: Sequence[Run]) -> list[Tried]:
    return [
        Tried(
            half_width=np.array([0.5 * (run.high - run.low) / run.median for run in own]),
            right=firm(plan, own)[0],
        )
        for own in _by_design(plan, runs)
    ]


def firm(plan: Plan, own: Sequence[Run]) -> tuple[Flags, Flags]:
    """Tell which verdicts are firm and right, and which are firm and wrong."""
    below = np.array([run.biomass_after < plan.threshold_kg_per_ha for run in own])
    # Where chains do not agree the verdict is withheld.
    said = np.array([run.probability_below if run.settled else 0.5 for run in own])
    yes, no = said >= FIRM, said <= 1.0 - FIRM
    return np.where(below, yes, no), np.where(below, no, yes)


def _chance(happened: np.ndarray[Any, Any]) -> float:
    """Return the share of campaigns, half a campaign towards the middle: never 0 or 1."""
    return float((happened.sum() + 0.5) / (len(happened) + 1.0))
