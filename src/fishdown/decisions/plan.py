"""Plan a season before any fish is marked: simulate designs, refit them, take the cheapest."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from itertools import product
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from fishdown.atomic_write import all_or_none
from fishdown.decisions.plan_campaign import MODEL, Job, Run, campaign_row, wrong_row
from fishdown.decisions.plan_compare import Tried, campaigns_to_tell
from fishdown.decisions.plan_file import Candidate, Plan, read_plan
from fishdown.equality import by_value
from fishdown.errors import PlanError
from fishdown.intervals import low_median_high
from fishdown.records.tables import rows_of
from fishdown.results_log import ResultsLog
from fishdown.spreadsheet import write_csv
from fishdown.version import __version__
from fishdown.words import amount, counted, percent_with_error

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from fishdown.decisions.plan_campaign import Refit
    from fishdown.posterior.sampling import SamplerSettings

    type Flags = np.ndarray[Any, np.dtype[np.bool_]]

TABLE, LOG = "plan.csv", "plan_campaigns.jsonl"
FIRM = 0.9
# Designs that a sentence names, at most.
MOST_NAMED = 3
COLUMNS = (
    "marked", "nets", "rounds", "pulls", "cost", "currency", "campaigns", "half_width_median",
    "half_width_low", "half_width_high", "inside_share", "right_and_firm", "right_and_firm_error",
    "wrong_and_firm", "unsettled", "target", "cheapest", "like_cheapest", "seed"
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
        chains did not converge. ``target``: ``met``, ``missed``, or ``open`` where the Monte-Carlo
        error leaves both. ``cheapest``: of those that meet it. ``like_cheapest``: designs that
        the campaigns, compared lake by lake, do not distinguish from that one as to the target.
    runs : tuple of Run
    """

    plan: Plan
    frame: pd.DataFrame
    runs: tuple[Run, ...]

    def sentence(self) -> str:
        """State the design to choose, and how certain that is."""
        wanted = _wanted(self.plan)
        best = self.frame[self.frame["cheapest"]]
        if best.empty:
            return self._without_best(wanted)
        row = best.iloc[0]
        width, narrow, wide = (
            amount(100.0 * row[f"half_width_{point}"]) for point in ("median", "low", "high")
        )
        firm = percent_with_error(row["right_and_firm"], row["right_and_firm_error"])
        return (
            f"The cheapest design that meets the target ({wanted}): {_design(row)}. The "
            f"half-width of its 90 % interval of abundance is {width} % of the median ({narrow} to "
            f"{wide} % in nine campaigns of ten), and the final verdict is right and firm with "
            f"a probability of {firm}.{self._alike(row)}"
        )

    def _without_best(self, wanted: str) -> str:
        still = self.frame[self.frame["target"] == "open"]
        if still.empty:
            return (
                f"None of the {len(self.frame)} designs meets the target ({wanted}); allow more "
                "marks, nets or rounds, or a weaker target."
            )
        return (
            f"With {counted(self.plan.simulations, 'campaign')} for each design it is undecided "
            f"whether any meets the target ({wanted}). The cheapest that may: "
            f"{_design(still.iloc[0])}.{self._more(still)}"
        )

    def _alike(self, best: pd.Series) -> str:
        """Name cheaper designs that may meet the target, and others not distinguished from it."""
        campaigns = counted(self.plan.simulations, "campaign")
        others = self.frame[~self.frame["cheapest"]]
        cheaper = others[(others["cost"] <= best["cost"]) & (others["target"] == "open")]
        like = others[others["like_cheapest"] & ~others.index.isin(cheaper.index)]
        said = ""
        if len(cheaper):
            said += (
                f" With {campaigns} for each design it is undecided whether these, which cost no "
                f"more, also meet it: {_listed(cheaper)}.{self._more(cheaper)}"
            )
        if len(like):
            said += (
                f" Compared lake by lake, {campaigns} do not distinguish it from: {_listed(like)}."
            )
        return said

    def _more(self, still: pd.DataFrame) -> str:
        """State how many campaigns would probably decide it."""
        tried = dict(zip(self.plan.candidates, _tried(self.plan, self.runs), strict=True))
        needed = [
            campaigns_to_tell(tried[Candidate(row.marked, row.nets, row.rounds)], self.plan)
            for row in rows_of(still)
        ]
        known = [number for number in needed if number is not None]
        if not known:
            return " More campaigns would decide it (simulations in the plan file)."
        return f" About {max(known):,} campaigns would decide it (simulations in the plan file)."


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
    how = {name: value for name, value in job.settings.entry().items() if name != "cores"}
    header = {"study": "plan", "plan and settings": job.plan.fingerprint(__version__, MODEL, how)}
    log = ResultsLog(path, header, wrong_row, PlanError)
    tasks = list(product(range(job.plan.simulations), range(len(job.plan.candidates))))
    rows = log.complete(
        partial(campaign_row, job), tasks, cores=cores, scheduler=scheduler, on_progress=on_progress
    )
    return [
        Run(candidate=candidate, simulation=simulation, **row)
        for (simulation, candidate), row in zip(tasks, rows, strict=True)
    ]


def summary(plan: Plan, runs: list[Run]) -> pd.DataFrame:
    """Tabulate the designs, cheapest first."""
    rows = []
    all_tried = _tried(plan, runs)
    for design, own, tried in zip(plan.candidates, _by_design(plan, runs), all_tried, strict=True):
        chance, error = tried.chance
        low, middle, high = low_median_high(tried.half_width)
        rows.append(
            {
                "marked": design.marked,
                "nets": design.nets,
                "rounds": design.rounds,
                "pulls": design.nets * design.rounds,
                "cost": plan.cost(design),
                "currency": plan.currency,
                "campaigns": len(own),
                "half_width_median": middle,
                "half_width_low": low,
                "half_width_high": high,
                "inside_share": _chance(np.array([r.low <= r.fish <= r.high for r in own])),
                "right_and_firm": chance,
                "right_and_firm_error": error,
                "wrong_and_firm": _chance(_firm(plan, own)[1]),
                "unsettled": sum(1 - run.settled for run in own),
                "target": tried.target(plan),
                "seed": plan.seed,
            }
        )
    frame = pd.DataFrame(rows).sort_values(["cost", "pulls", "marked"])
    met = frame["target"] == "met"
    frame["cheapest"] = met & (met.cumsum() == 1)
    best = frame.index[frame["cheapest"]].tolist()
    # The index is still the place among the candidates.
    frame["like_cheapest"] = [
        any(place != one and all_tried[place].like(all_tried[one], plan) for one in best)
        for place in frame.index
    ]
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
            right=_firm(plan, own)[0],
        )
        for own in _by_design(plan, runs)
    ]


def _firm(plan: Plan, own: Sequence[Run]) -> tuple[Flags, Flags]:
    """Tell which verdicts are firm and right, and which are firm and wrong."""
    below = np.array([run.biomass_after < plan.threshold_kg_per_ha for run in own])
    said = np.array([run.probability_below for run in own])
    yes, no = said >= FIRM, said <= 1.0 - FIRM
    return np.where(below, yes, no), np.where(below, no, yes)


def _design(row: pd.Series) -> str:
    cost = f" for {row['cost']:,.0f} {row['currency']}".rstrip() if row["cost"] > 0 else ""
    return f"mark {row['marked']:,} fish and pull {row['nets']} nets on {row['rounds']} days{cost}"


def _listed(designs: pd.DataFrame) -> str:
    """Name the cheapest few designs."""
    named = [_design(row) for _, row in designs.head(MOST_NAMED).iterrows()]
    more = len(designs) - len(named)
    return "; ".join([*named, *([f"and {more} more"] if more else [])])


def _chance(happened: np.ndarray[Any, Any]) -> float:
    """Return the share of campaigns, half a campaign towards the middle: never 0 or 1."""
    return float((happened.sum() + 0.5) / (len(happened) + 1.0))


def _wanted(plan: Plan) -> str:
    parts = []
    if plan.half_width is not None:
        parts.append(f"an interval of at most {100 * plan.half_width:.3g} % to either side")
    if plan.right_and_firm is not None:
        parts.append(
            f"a right and firm verdict with a probability of {100 * plan.right_and_firm:.3g} %"
        )
    return " and ".join(parts)
