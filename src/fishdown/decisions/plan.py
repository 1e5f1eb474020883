"""Plan a season before any fish is marked: simulate designs, refit them, take the cheapest."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from itertools import product
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

import fishdown
from fishdown.crew import at_work
from fishdown.decisions.plan_campaign import MODEL, Job, campaign_run
from fishdown.decisions.plan_file import Plan, read_plan
from fishdown.decisions.plan_runs import NAME, Run, append_run, read_runs, start_runs
from fishdown.drafts import all_or_none
from fishdown.errors import PlanError
from fishdown.intervals import low_median_high
from fishdown.spreadsheet import write_csv
from fishdown.statements.words import amount, percent_with_error

if TYPE_CHECKING:
    from collections.abc import Callable

    from matplotlib.figure import Figure

    from fishdown.decisions.plan_campaign import Refit
    from fishdown.posterior.sampling import SamplerSettings

TABLE = "plan.csv"
FIRM = 0.9
COLUMNS = (
    "marked",
    "nets",
    "rounds",
    "pulls",
    "cost",
    "currency",
    "campaigns",
    "half_width_median",
    "half_width_low",
    "half_width_high",
    "inside_share",
    "right_and_firm",
    "right_and_firm_error",
    "wrong_and_firm",
    "unsettled",
    "meets_target",
    "cheapest",
    "seed",
)


@dataclass(frozen=True)
class Planned:
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
        chains did not agree.
    runs : tuple of Run
    """

    plan: Plan
    frame: pd.DataFrame
    runs: tuple[Run, ...]

    def figure(self, palette: str = "light") -> Figure:
        """Draw precision and firmness of the designs against their cost."""
        from fishdown.figures.palette import palette_named
        from fishdown.figures.plan import draw

        return draw(self, palette=palette_named(palette))

    def sentence(self) -> str:
        """Say which design to take, and how sure that is."""
        wanted = _wanted(self.plan)
        best = self.frame[self.frame["cheapest"]]
        if best.empty:
            return (
                f"None of the {len(self.frame)} designs meets the target ({wanted}); offer more "
                "marks, nets or rounds, or ask for less."
            )
        row = best.iloc[0]
        cost = f" for {row['cost']:,.0f} {row['currency']}".rstrip() if row["cost"] > 0 else ""
        width, narrow, wide = (
            amount(100.0 * row[f"half_width_{point}"]) for point in ("median", "low", "high")
        )
        return (
            f"The cheapest design that meets the target ({wanted}): mark {row['marked']:,} fish "
            f"and pull {row['nets']} nets on {row['rounds']} days{cost}. Its 90 % interval of "
            f"abundance reaches {width} % to either side in the middle campaign ({narrow} to "
            f"{wide} % in nine of ten), and the final verdict is right and firm with a probability "
            f"of {percent_with_error(row['right_and_firm'], row['right_and_firm_error'])}."
        )


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
        Folder for `plan.csv`, and for `plan_campaigns.csv`, to which each simulated campaign is
        added as it is done: after a stop the same call goes on from there.
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
        If the cluster cannot be reached, or those at work are lost.
    """
    from fishdown.posterior.sampling import SamplerSettings

    wanted = asked if isinstance(asked, Plan) else read_plan(asked)
    if cores < 1:
        raise PlanError(f"cores = {cores}: write a whole number, 1 or more")
    job = Job(wanted, settings or SamplerSettings(draws=300, tune=500, chains=2), refit)
    folder = Path(out)
    runs = _all_runs(job, folder / NAME, cores, scheduler, on_progress)
    frame = summary(wanted, runs)
    with all_or_none(folder, refusal=PlanError) as draft:
        write_csv(frame, draft / TABLE)
    return Planned(wanted, frame, tuple(runs))


def _all_runs(
    job: Job,
    path: Path,
    cores: int,
    scheduler: str | None,
    on_progress: Callable[[int, int], None] | None,
) -> list[Run]:
    how = {name: value for name, value in job.settings.entry().items() if name != "cores"}
    fingerprint = job.plan.fingerprint(fishdown.__version__, MODEL, how)
    known = {(run.simulation, run.candidate): run for run in read_runs(path, fingerprint)}
    tasks = list(product(range(job.plan.simulations), range(len(job.plan.candidates))))
    missing = [task for task in tasks if task not in known]
    done = len(tasks) - len(missing)
    do = partial(campaign_run, job)
    with at_work(do, missing, work="the plan", cores=cores, scheduler=scheduler) as results:
        # Only now: where a cluster is asked for and not found, nothing is left behind.
        start_runs(path, fingerprint)
        if on_progress is not None:
            on_progress(done, len(tasks))
        for task, run in results:
            append_run(path, run)
            known[task] = run
            done += 1
            if on_progress is not None:
                on_progress(done, len(tasks))
    return [known[task] for task in tasks]


def summary(plan: Plan, runs: list[Run]) -> pd.DataFrame:
    """Tabulate the designs, cheapest first."""
    rows = []
    for place, design in enumerate(plan.candidates):
        own = [run for run in runs if run.candidate == place]
        width = np.array([0.5 * (run.high - run.low) / run.median for run in own])
        below = np.array([run.biomass_after < plan.threshold_kg_per_ha for run in own])
        said = np.array([run.probability_below for run in own])
        right = np.where(below, said >= FIRM, said <= 1.0 - FIRM)
        wrong = np.where(below, said <= 1.0 - FIRM, said >= FIRM)
        chance = _chance(right)
        low, middle, high = low_median_high(width)
        meets = (plan.half_width is None or middle <= plan.half_width) and (
            plan.right_and_firm is None or chance >= plan.right_and_firm
        )
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
                "right_and_firm_error": np.sqrt(chance * (1.0 - chance) / len(own)),
                "wrong_and_firm": _chance(wrong),
                "unsettled": sum(1 - run.settled for run in own),
                "meets_target": bool(meets),
                "seed": plan.seed,
            }
        )
    frame = pd.DataFrame(rows).sort_values(["cost", "pulls", "marked"], ignore_index=True)
    frame["cheapest"] = frame["meets_target"] & (frame["meets_target"].cumsum() == 1)
    return frame[list(COLUMNS)]


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
