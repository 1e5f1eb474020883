"""The pulls to come: what they may catch and leave, what they cost, and when they are enough."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import xarray as xr

from fishdown.decisions.ahead_tables import needed_frame, pull_frame
from fishdown.decisions.ahead_words import sentence
from fishdown.decisions.lake_ahead import LakeAhead, Terms
from fishdown.decisions.schedule import continued, later_year, wrong_prices
from fishdown.decisions.simulation import Simulated, simulate, vulnerable_fish
from fishdown.errors import PlanError
from fishdown.models.parts.weights.left import log_left, log_weight_change, mass_taken
from fishdown.posterior.fish_weights import selectivity_of
from fishdown.posterior.quality import judge
from fishdown.statements.cooling import readings_span
from fishdown.statements.on_the_day import at_area
from fishdown.statements.probability import says
from fishdown.statements.removals import WANTED
from fishdown.units import shown_in

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Mapping, Sequence

    import pandas as pd

    from fishdown.decisions.schedule import Schedule
    from fishdown.posterior.fitted import FittedCampaign
    from fishdown.typing import FloatArray

TABLE = "ahead.csv"


@dataclass(frozen=True)
class PullsAhead:
    """The pulls to come in one lake or several.

    Attributes
    ----------
    lakes : tuple of LakeAhead
    fit : str
        Fingerprint of the fit that they follow from.
    seed : int
        Of the simulation of the pulls.
    """

    lakes: tuple[LakeAhead, ...]
    fit: str
    seed: int

    @property
    def passed(self) -> bool:
        """Whether every lake passes the gates."""
        return not any(lake.failure for lake in self.lakes)

    def frame(self) -> pd.DataFrame:
        """Return one row for each pull to come, and row 0 for now.

        Returns
        -------
        pandas.DataFrame
            Columns `fishdown.decisions.ahead_tables.COLUMNS`, ``fit`` being the fingerprint of
            the fit; intervals are equal-tailed and hold 90 %. Estimates are missing where the gate
            failed.
        """
        return pull_frame(self.lakes, self.fit, self.seed)

    def needed(self, wanted: Sequence[float] = WANTED) -> pd.DataFrame:
        """Return the pulls needed for wanted probabilities of being below the threshold.

        Returns
        -------
        pandas.DataFrame
            Columns `fishdown.decisions.ahead_tables.NEEDED_COLUMNS`; ``pulls_low`` and
            ``pulls_high`` are the range that Monte-Carlo error leaves. Missing where all pulls to
            come are not enough, where the gate failed, and costs where none are given. Empty
            without weights.
        """
        return needed_frame(self.lakes, wanted)

    def sentences(self, until: float = WANTED[1]) -> tuple[str, ...]:
        """Say it in words, a sentence or a few a lake; `until` is the probability wanted."""
        return tuple(sentence(lake, until) for lake in self.lakes)


def pulls_ahead(
    fit: FittedCampaign,
    pulls: int | None = None,
    *,
    lake: str | None = None,
    plan: Mapping[str, Schedule] | None = None,
    start: dt.date | None = None,
    days_between: int | None = None,
    pulls_a_day: int | None = None,
    temperature: float | None = None,
    cost_per_pull: float | None = None,
    cost_above: float | None = None,
    value_per_kg: float | None = None,
    seed: int = 20,
    despite_gate: bool = False,
) -> PullsAhead:
    """Predict pulls to come: catch, biomass left, cost and expected loss.

    Parameters
    ----------
    fit : FittedCampaign
    pulls : int, optional
        How many pulls in each lake; not with `plan`.
    lake : str, optional
        By default every lake that was netted.
    plan : mapping of str to Schedule, optional
        Lake to its pulls, see `fishdown.decisions.pulls_file.read_pulls_ahead`.
    start : datetime.date, optional
        First day; by default the season continues at its pace.
    days_between : int, optional
        Days from one field day to the next.
    pulls_a_day : int, optional
        Pulls on each field day.
    temperature : float, optional
        Of the water, °C; by default what the readings tell.
    cost_per_pull, cost_above, value_per_kg : float, optional
        In the campaign's currency: cost of a pull (by default the campaign's), cost of ending
        above the threshold, value of one kg removed.
    seed : int
        Of the random numbers.
    despite_gate : bool
        Fill in what a failed gate would withhold.

    Returns
    -------
    PullsAhead
        From `fishdown.Fit.ahead` as an `Ahead`, which can be saved too.

    Raises
    ------
    PlanError
        If what is asked for cannot be.
    """
    if (pulls is None) == (plan is None):
        raise PlanError("say how many pulls are to come, or give a plan of them: one of the two")
    seasons = fit.campaign.last_seasons
    names = [lake] if lake is not None else list(plan or seasons)
    places = {name: n for n, name in enumerate(fit.campaign.lakes["lake"].values.tolist())}
    terms = _terms(fit, cost_per_pull, cost_above, value_per_kg)
    found = []
    for name in names:
        if name not in seasons:
            raise PlanError(f"no pulls in a lake named {name!r}; there are {', '.join(seasons)}")
        season = seasons[name]
        if plan is None:
            assert pulls is not None
            schedule = continued(
                fit.campaign,
                season,
                pulls,
                start=start,
                days_between=days_between,
                pulls_a_day=pulls_a_day,
                temperature=temperature,
            )
        elif name in plan:
            schedule = plan[name]
        else:
            raise PlanError(f"the plan has no pulls in {name}; it has {', '.join(plan)}")
        # A lake's numbers are the same whether it is asked for alone or with others.
        rng = np.random.default_rng([seed, places[name]])
        found.append(_lake_ahead(fit, season, schedule, terms, rng, despite_gate=despite_gate))
    return PullsAhead(tuple(found), fit.fingerprint, seed)


def _terms(
    fit: FittedCampaign, per_pull: float | None, above: float | None, value_per_kg: float | None
) -> Terms:
    wrong = wrong_prices(
        {"cost per pull": per_pull, "cost above": above, "value per kg": value_per_kg}
    )
    if wrong:
        raise PlanError("; ".join(wrong))
    settings = fit.campaign.settings
    return Terms(
        currency=settings.currency or "",
        per_pull=settings.cost_per_pull if per_pull is None else per_pull,
        per_field_day=settings.cost_per_field_day,
        above=above,
        value_per_kg=value_per_kg,
    )


def _lake_ahead(
    fit: FittedCampaign,
    season: int,
    schedule: Schedule,
    terms: Terms,
    rng: np.random.Generator,
    *,
    despite_gate: bool,
) -> LakeAhead:
    campaign = fit.campaign
    lake = campaign.lake_of(season)
    simulated = simulate(fit, season, schedule, rng)
    shape = _shape(fit)
    taken = np.cumsum(simulated.catch, axis=1)
    fish = fit.quantities["abundance_after"].isel(season=season).values[:, :, None]
    # Fish not vulnerable stay; the vulnerable ones are whole fish, of which none is taken twice.
    vulnerable = vulnerable_fish(fit, season)
    most = np.minimum(
        np.concatenate([np.zeros((len(vulnerable), 1)), taken], axis=1), vulnerable[:, None]
    )
    in_lake = np.maximum(fish - most.reshape(*shape, -1), 0.0)
    mean_catch = simulated.mean_catch.reshape(*shape, -1)
    weight, kg, mean_kg = _weights(fit, season, in_lake, mean_catch)
    failure = _failure(fit, season, simulated)
    cools = fit.spec.part("temperature") != "none"
    with shown_in(fit.units):
        area_words = at_area(campaign, season, "after")
    return LakeAhead(
        **campaign.place(season),
        schedule=schedule,
        terms=terms,
        threshold=float(lake["threshold"]),
        coldest=readings_span(fit, fit.data.lake_of_season[season])[0] if cools else float("nan"),
        later_year=later_year(campaign, season, schedule),
        failure=failure,
        shown=despite_gate or not failure,
        temperature=simulated.temperature.reshape(*shape, -1),
        catch=simulated.catch.reshape(*shape, -1),
        mean_catch=mean_catch,
        fish=in_lake,
        weight=weight,
        kg=kg,
        mean_kg=mean_kg,
        area=float(campaign.seasons["area_after"][season]),
        at_area=area_words,
        units=fit.units,
    )


def _weights(
    fit: FittedCampaign, season: int, fish: FloatArray, mean_catch: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray] | tuple[None, None, None]:
    """Return the mean weight in the lake now and after each pull, and what catches weigh, kg.

    Nets go on to select by size; what fish grow after the last pull on record is left out.
    """
    if not says(fit, "mean_weight_left", season):
        return None, None, None
    now = fit.quantities["mean_weight_left"].isel(season=season).values[:, :, None]
    s = selectivity_of(fit.quantities)[:, :, None]
    first, before = fish[:, :, :1], fish[:, :, :-1]
    weight = now * np.exp(log_weight_change(log_left(first, first - fish), 0.0, s, 0.0))
    at_pull = weight[:, :, :-1]
    kg = at_pull * mass_taken(before, before - fish[:, :, 1:], s)
    return weight, kg, at_pull * mass_taken(before, np.minimum(mean_catch, before), s)


def _shape(fit: FittedCampaign) -> tuple[int, int]:
    sizes = fit.tree["posterior"].dataset.sizes
    return sizes["chain"], sizes["draw"]


def _failure(fit: FittedCampaign, season: int, simulated: Simulated) -> str:
    """Return why nothing may be said: the season's gates, and that of what pulls will take."""
    # Without the chance of the simulation, which would hide chains that disagree.
    share = np.exp(-simulated.hazard.sum(axis=1)).reshape(_shape(fit))
    draws = xr.Dataset({"share_left": (("chain", "draw"), share)})
    reasons = [fit.failure(season), judge(draws, fit.tree["sample_stats"].dataset).failure(0)]
    return "; ".join(dict.fromkeys(reason for reason in reasons if reason))
