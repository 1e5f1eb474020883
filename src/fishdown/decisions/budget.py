"""One budget for several lakes: which of them get the nets; `models/README.md`, "One budget"."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fishdown.decisions.ahead import pulls_ahead
from fishdown.decisions.budget_lakes import AIMS, Aim, days_of, without_days
from fishdown.decisions.budget_splits import Splits
from fishdown.decisions.budget_tables import curve_frame, split_frame
from fishdown.decisions.budget_words import limit_words, sentences
from fishdown.decisions.codes import MisfitError, PlanCode
from fishdown.decisions.schedule import MOST_DAYS, last_days, pace, wrong_pace, wrong_prices
from fishdown.equality import by_value
from fishdown.errors import PlanError
from fishdown.statements.probability import says
from fishdown.units import shown_in
from fishdown.words import counted

if TYPE_CHECKING:
    import datetime as dt

    import pandas as pd

    from fishdown.posterior.fitted import FittedCampaign
    from fishdown.units import System


@by_value
@dataclass(frozen=True)
class Budget:
    """Field days shared out among the lakes of a campaign.

    Attributes
    ----------
    frame : pandas.DataFrame
        Columns `fishdown.decisions.budget_tables.COLUMNS`: of each split (``best``, ``equal``,
        ``nearest``, ``none``) a row a lake, and one of all lakes. Without numbers where a lake gets
        no field days because nothing can be said of it.
    curve : pandas.DataFrame
        Columns `fishdown.decisions.budget_tables.CURVE_COLUMNS`: what smaller budgets would do.
    sentences : tuple of str
        In plain words.
    passed : bool
        Whether every lake passed the gates.
    shared : str
        What there was to be shared out, in words.
    units : {"metric", "us"}
        Of the sentences, and of what is drawn and written; the frames are metric.
    """

    frame: pd.DataFrame
    curve: pd.DataFrame
    sentences: tuple[str, ...]
    passed: bool
    shared: str
    units: System = "metric"


def budget(
    fit: FittedCampaign,
    days: int | None = None,
    *,
    amount: float | None = None,
    aim: Aim = "lakes",
    start: dt.date | None = None,
    days_between: int | None = None,
    pulls_a_day: int | None = None,
    temperature: float | None = None,
    cost_per_pull: float | None = None,
    cost_per_field_day: float | None = None,
    seed: int = 20,
    despite_gate: bool = False,
) -> Budget:
    """Share out field days, or money, among the lakes of a campaign.

    Parameters
    ----------
    fit : FittedCampaign
        Of several lakes, with catches and weights.
    days : int, optional
        Field days in all lakes together, at most.
    amount : float, optional
        Their cost, at most, in the campaign's currency. Needs prices; one of the two limits is
        needed, and both may be given.
    aim : {"lakes", "biomass"}
        What is to be as small as can be: the expected number of lakes above their thresholds, or
        the expected kg above the thresholds of all lakes.
    start : datetime.date, optional
        First day in every lake; by default each season continues at its pace.
    days_between, pulls_a_day : int, optional
        Of every lake; by default as in its records.
    temperature : float, optional
        Of the water, °C; by default what the readings tell.
    cost_per_pull, cost_per_field_day : float, optional
        By default the campaign's.
    seed : int
        Of the random numbers.
    despite_gate : bool
        Give field days also to lakes whose gate failed.

    Returns
    -------
    Budget

    Raises
    ------
    PlanError
        If what is asked for cannot be, all problems at once.
    """
    settings = fit.campaign.settings
    pull = settings.cost_per_pull if cost_per_pull is None else cost_per_pull
    field_day = settings.cost_per_field_day if cost_per_field_day is None else cost_per_field_day
    wrong = [
        *_wrong_limits(days, amount, pull, field_day),
        *([] if aim in AIMS else [f"aim {aim!r}: write {' or '.join(AIMS)}"]),
        *wrong_pace(temperature, days_between=days_between, pulls_a_day=pulls_a_day),
        *_wrong_fit(fit),
        *_too_early(fit, start),
    ]
    if wrong:
        raise PlanError("; ".join(wrong))
    old = _too_old(fit, start)
    paces = {
        name: pace(fit.campaign, season, start=start, days_between=days_between,
                   pulls_a_day=pulls_a_day)
        for name, season in fit.campaign.last_seasons.items()
        if name not in old
    }  # fmt: skip
    costs = {name: _cost_a_day(pull, field_day, one.pulls_a_day) for name, one in paces.items()}
    if amount is not None and min(costs.values()) > amount:
        raise PlanError(
            f"amount {amount:,.2f} pays for no field day: the cheapest costs "
            f"{min(costs.values()):,.2f} {settings.currency or ''}".rstrip()
        )
    lakes = []
    for name, season in fit.campaign.last_seasons.items():
        if name in old:
            place, here = fit.campaign.place(season), fit.campaign.lake_of(season)
            threshold = float(here["threshold"])
            area = float(fit.campaign.seasons["area_after"][season])
            lakes.append(without_days(**place, threshold=threshold, area=area, reason=old[name]))
            continue
        going = paces[name]
        most = min(going.most_days, going.most_days if days is None else days)
        if amount is not None:
            most = min(most, int(amount * (1.0 + 1e-9) // costs[name]))
        (ahead,) = pulls_ahead(
            fit,
            # One at least, which tells whether the lake passes the gates.
            max(most, 1) * going.pulls_a_day,
            lake=name,
            start=start,
            days_between=days_between,
            pulls_a_day=going.pulls_a_day,
            temperature=temperature,
            seed=seed,
            despite_gate=despite_gate,
        ).lakes
        lakes.append(days_of(ahead, going.pulls_a_day, costs[name], most))
    currency = settings.currency or ""
    splits = Splits(tuple(lakes), days, amount, aim, currency, seed)
    with shown_in(fit.units):
        said = sentences(splits, _never_netted(fit))
    failed = any(lake.failure for lake in lakes)
    return Budget(
        split_frame(splits, fit.fingerprint, seed), curve_frame(splits), said, not failed,
        limit_words(splits), fit.units,
    )  # fmt: skip


def _wrong_limits(
    days: int | None, amount: float | None, pull: float | None, field_day: float | None
) -> list[str]:
    wrong = []
    if days is None and amount is None:
        wrong.append("say how many field days there are (days), or how much money (amount)")
    if days is not None and days < 1:
        wrong.append(f"days = {days}: write 1 or more")
    if amount is not None and not (math.isfinite(amount) and amount > 0.0):
        wrong.append(f"amount = {amount:g}: write a number above 0")
    prices = {"cost per pull": pull, "cost per field day": field_day}
    bad = wrong_prices(prices)
    wrong += bad
    if amount is not None and not bad and not any(prices.values()):
        wrong.append(
            "an amount needs prices: write cost_per_pull or cost_per_field_day, above 0, into "
            "campaign.toml and fit again, or give them here"
        )
    return wrong


def _wrong_fit(fit: FittedCampaign) -> list[str]:
    wrong = []
    lakes = fit.campaign.last_seasons
    if len(lakes) < 2:
        wrong.append(
            f"a budget is shared by several lakes, and only {counted(len(lakes), 'lake')} of this "
            "fit was netted: use fishdown ahead"
        )
    if fit.spec.part("evidence") == "marks":
        wrong.append(
            f"the model {fit.spec.name} uses mark–recapture only and does not estimate "
            "catchability; fit a model with catches, such as pooled_lakes"
        )
    if not any(says(fit, "biomass_after", season) for season in lakes.values()):
        wrong.append(
            "no lake has an estimate of biomass density, which thresholds are about: weigh fish "
            "(measured.csv) and fit again"
        )
    return wrong


def _too_early(fit: FittedCampaign, start: dt.date | None) -> list[str]:
    if start is None:
        return []
    return [
        str(MisfitError(PlanCode.BEFORE_LAST_PULL, day=start, lake=lake, last=last))
        for lake, last in last_days(fit.campaign).items()
        if np.datetime64(start, "D") < last
    ]


def _too_old(fit: FittedCampaign, start: dt.date | None) -> dict[str, str]:
    """Return the lakes whose last pull is too long ago to go on from, and that in words.

    By the first day to come, or else by the last day on record of all lakes.

    Raises
    ------
    PlanError
        If that are all lakes.
    """
    last = last_days(fit.campaign)
    now = max(last.values()) if start is None else np.datetime64(start, "D")
    old = {
        lake: f"its last pull on record ({day}) lies more than {MOST_DAYS} days before {now}"
        for lake, day in last.items()
        if int((now - day).astype(int)) > MOST_DAYS
    }
    if len(old) == len(last):
        raise PlanError(
            f"{now} lies more than {MOST_DAYS} days after the last pull of every lake "
            f"({max(last.values())}): begin earlier; for later years use fishdown years"
        )
    return old


def _cost_a_day(pull: float | None, field_day: float | None, pulls_a_day: int) -> float:
    """Return the cost of a field day in a lake; NaN without prices."""
    if pull is None and field_day is None:
        return math.nan
    return (pull or 0.0) * pulls_a_day + (field_day or 0.0)


def _never_netted(fit: FittedCampaign) -> list[str]:
    netted = fit.campaign.last_seasons
    return [lake for lake in fit.campaign.lakes["lake"].values.tolist() if lake not in netted]
