"""Plan a season before any fish is marked: simulate designs, refit them, take the cheapest."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

import fishdown
from fishdown.decisions.plan_file import Candidate, Plan, read_plan
from fishdown.decisions.plan_runs import NAME, Run, append_run, read_runs
from fishdown.errors import PlanError
from fishdown.intervals import INTERVAL, low_median_high
from fishdown.statements.probability import probability_below
from fishdown.statements.words import amount, percent_with_error

if TYPE_CHECKING:
    from collections.abc import Callable

    from fishdown.campaign import Campaign
    from fishdown.decisions.plan_file import Guess
    from fishdown.posterior.sampling import SamplerSettings
    from fishdown.typing import FloatArray
    from fishdown.worlds import World

    # Takes a campaign and a seed; returns draws (chain, draw) of fish before and of kg/ha after.
    type Refit = Callable[[Campaign, int], tuple[FloatArray, FloatArray]]

MODEL = "one_lake"
TABLE = "plan.csv"
FIRM = 0.9
LARGEST_RHAT = 1.05
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


class _Refits:
    """Fits of one model, compiled once and fed with campaign after campaign."""

    def __init__(self, settings: SamplerSettings) -> None:
        self._settings = settings
        self._sampler: Any = None
        self._spec: Any = None

    def __call__(self, campaign: Campaign, seed: int) -> tuple[FloatArray, FloatArray]:
        from dataclasses import replace

        from fishdown.models.data import fitting_spec, model_data
        from fishdown.models.graph import build
        from fishdown.models.spec import read_model
        from fishdown.posterior.quantities import reported_quantities
        from fishdown.posterior.sampling import Sampler

        spec, _ = fitting_spec(campaign, read_model(MODEL))
        data = model_data(campaign, spec)
        if spec != self._spec:
            self._spec = spec
            self._sampler = Sampler(build(spec, data, campaign.coords), "nutpie", reusable=True)
        self._sampler.feed(data)
        tree = self._sampler.sample(replace(self._settings, seed=seed))
        found = reported_quantities(tree["posterior"].to_dataset(), campaign, spec)
        return tuple(  # type: ignore[return-value]
            found[name].isel(season=0).values for name in ("abundance_before", "biomass_after")
        )


def plan(
    asked: str | Path | Plan,
    out: str | Path,
    *,
    settings: SamplerSettings | None = None,
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
        By default two chains of 300 draws after 500 of tuning.
    refit : callable, optional
        In place of sampling: takes a campaign and a seed, returns draws of fish before netting
        and of kg/ha after it, shape (chain, draw).
    on_progress : callable, optional
        Called with campaigns done and campaigns in all.

    Raises
    ------
    PlanError
        With everything that is wrong in the file, or if `out` holds another plan's campaigns.
    """
    from fishdown.posterior.sampling import SamplerSettings

    wanted = asked if isinstance(asked, Plan) else read_plan(asked)
    settings = settings or SamplerSettings(draws=300, tune=500, chains=2)
    folder = Path(out)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        runs = _all_runs(wanted, folder / NAME, settings, refit, on_progress)
        frame = summary(wanted, runs)
        draft = folder / f".unfinished-{TABLE}"
        frame.to_csv(draft, index=False)
        draft.replace(folder / TABLE)
    except OSError as error:
        raise PlanError(f"cannot write to {folder}: {error.strerror or error}") from error
    return Planned(wanted, frame, tuple(runs))


def _all_runs(
    plan: Plan,
    path: Path,
    settings: SamplerSettings,
    refit: Refit | None,
    on_progress: Callable[[int, int], None] | None,
) -> list[Run]:
    how = {name: value for name, value in settings.entry().items() if name != "cores"}
    kept = read_runs(path, plan.fingerprint(fishdown.__version__, MODEL, how))
    known = {(run.candidate, run.simulation): run for run in kept}
    refit = refit or _Refits(settings)
    runs = []
    # All seeds are drawn before anything is simulated: what a campaign is does not depend on
    # which were done before a stop. A campaign's truth is the same for every design.
    seeds = np.random.SeedSequence(plan.seed).spawn(plan.simulations)
    children = [seed.spawn(1 + len(plan.candidates)) for seed in seeds]
    total = plan.simulations * len(plan.candidates)
    for simulation, (of_truth, *of_designs) in enumerate(children):
        for place, (design, of_design) in enumerate(zip(plan.candidates, of_designs, strict=True)):
            run = known.get((place, simulation))
            if run is None:
                world = draw_world(plan, design, np.random.default_rng(of_truth))
                run = _run(plan, world, place, simulation, of_design, refit)
                append_run(path, run)
            runs.append(run)
            if on_progress is not None:
                on_progress(len(runs), total)
    return runs


def draw_world(plan: Plan, design: Candidate, rng: np.random.Generator) -> World:
    """Draw a lake from what the plan supposes, and net it by a design."""
    from fishdown.worlds import LakeTruth, World

    fish, weight, cleared, effect, schooling = (
        _drawn(guess, rng)
        for guess in (
            plan.fish_per_ha,
            plan.mean_weight_kg,
            plan.cleared_ha,
            plan.temperature_effect,
            plan.schooling,
        )
    )
    lake = LakeTruth(
        "the lake",
        area_ha=plan.area_ha,
        fish=max(round(fish * plan.area_ha), design.marked),
        cleared_ha=cleared,
        temperature_effect=effect,
        mean_weight=weight,
    )
    return World(
        lakes=(lake,),
        marked=design.marked,
        nets=design.nets,
        rounds=design.rounds,
        days_between=plan.days_between,
        first_day=plan.first_day,
        schooling=schooling,
        temperatures=plan.temperatures,
        weighed=plan.weighed,
    )


def _drawn(guess: Guess, rng: np.random.Generator) -> float:
    """Draw a log-normal number whose 90 % interval is the guess."""
    from scipy import stats

    low, high = np.log(guess)
    scale = (high - low) / (2.0 * stats.norm.ppf(0.5 + 0.5 * INTERVAL))
    return float(np.exp(0.5 * (low + high) + scale * rng.standard_normal()))


def _run(
    plan: Plan,
    world: World,
    place: int,
    simulation: int,
    seeds: np.random.SeedSequence,
    refit: Refit,
) -> Run:
    from arviz_stats.base import array_stats

    from fishdown.worlds import simulate

    campaign, truth = simulate(world, np.random.default_rng(seeds))
    known = truth.set_index("quantity")["value"]
    fish, biomass = refit(campaign, int(seeds.generate_state(1)[0] >> 1))
    low, median, high = low_median_high(fish)
    return Run(
        candidate=place,
        simulation=simulation,
        fish=float(known["abundance_before"]),
        median=float(median),
        low=float(low),
        high=float(high),
        biomass_after=float(known["biomass_after"]),
        probability_below=probability_below(biomass, plan.threshold_kg_per_ha)[0],
        settled=int(float(array_stats.rhat(fish)) <= LARGEST_RHAT),
    )


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
