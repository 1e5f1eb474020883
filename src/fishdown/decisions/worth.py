"""What one more measurement is worth: how far it would narrow the biomass left, before it is made.

`models/README.md`, section "What a measurement is worth", has the mathematics.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from fishdown.decisions.rates import prior_of
from fishdown.decisions.schedule import MOST_PULLS, continued
from fishdown.decisions.simulation import LEAST_HAZARD, MOST_HAZARD, simulate, vulnerable_fish
from fishdown.decisions.worth_measured import (
    LakeDraws,
    Measurement,
    PullsToCome,
    log_weight,
)
from fishdown.errors import PlanError
from fishdown.intervals import TAILS
from fishdown.models.parts.marks.shedding import still_marked
from fishdown.models.parts.marks.used_up import share_left, still_there
from fishdown.posterior.at_draws import evenly_spaced, rates_at_draws, thinned
from fishdown.posterior.pull_hazard import schooling_of_pulls
from fishdown.statements.probability import says

if TYPE_CHECKING:
    import xarray as xr

    from fishdown.decisions.schedule import Schedule
    from fishdown.posterior.fitted import FittedCampaign
    from fishdown.records.settings import Settings
    from fishdown.typing import FloatArray

# Draws taken as true in turn, and draws that are weighed.
TRUTHS, WEIGHED = 200, 2_000
# Surer than this a verdict is firm.
FIRM = 0.9
# Fewer effective draws than this do not support the ends of an interval (our judgement).
FEWEST_DRAWS = 50

COLUMNS = (
    "lake", "season", "measurement", "fish", "narrower", "narrower_mc_error", "ratio_now",
    "ratio_expected", "firm_now", "firm_expected", "firm_mc_error", "draws", "cost", "currency",
    "narrower_per_1000", "gate", "fit",
)  # fmt: skip


def worth(
    fit: FittedCampaign,
    *,
    pen: int = 50,
    double_marks: int = 30,
    antenna: int = 0,
    second_gear: int = 300,
    weights: int = 60,
    pulls: int = 5,
    seed: int = 1,
    despite_gate: bool = False,
) -> pd.DataFrame:
    """Predict how far each next measurement would narrow the biomass left of every lake.

    Parameters
    ----------
    fit : FittedCampaign
        With effective marks and biomass.
    pen : int
        Marked fish kept in a pen.
    double_marks : int
        Recaptured fish of two marks that are checked for both; no more than were released with two
        in the lake's last season.
    antenna : int
        Tags listened for; 0 for all that were released in the lake's last season.
    second_gear : int
        Fish that a run of another gear than nets and marking looks at.
    weights : int
        Fish weighed.
    pulls : int
        More pulls, as the season went, every catch examined for marks.
    seed : int
    despite_gate : bool
        Predict also for lakes whose verdict is withheld.

    Returns
    -------
    pandas.DataFrame
        Columns `COLUMNS`, one row for each measurement of each lake, the one that narrows most
        first, and one for all together: by which share the logarithm of the ratio of the ends of
        the 90 % interval is expected to fall, the median ratio now and then, the chance that the
        verdict is firm (90 % either way), Monte-Carlo standard errors, and the least effective
        number of draws behind nine in ten of the predictions; what it costs by the prices of the
        campaign, and by how much it narrows for a thousand of that (missing without its price). Of
        a lake that is withheld, or has no estimate of biomass, the numbers are missing. ``fit`` is
        the fingerprint of the fit.

    Raises
    ------
    PlanError
        If the model has no effective marks or no biomass, or a number is below 0 or too large.
    """
    asked = {
        "pen": pen, "double_marks": double_marks, "antenna": antenna, "second_gear": second_gear,
        "weights": weights, "pulls": pulls,
    }  # fmt: skip
    wrong = [f"{name} {number}: write 0 or more" for name, number in asked.items() if number < 0]
    if pulls > MOST_PULLS:
        wrong.append(f"pulls {pulls:,}: write {MOST_PULLS:,} or fewer")
    if wrong:
        raise PlanError("; ".join(wrong))
    if "effective_marks" not in fit.quantities or "biomass_after" not in fit.quantities:
        raise PlanError(
            "worth needs a fit with effective marks and biomass: a model with "
            'marks = "effective", marked fish and weights'
        )
    rng = np.random.default_rng(seed)
    rows: list[dict[str, Any]] = []
    for season in fit.campaign.last_seasons.values():
        gate = fit.failure(season)
        place = {**fit.campaign.place(season), "gate": gate or "passed", "fit": fit.fingerprint}
        if (gate and not despite_gate) or not says(fit, "biomass_after", season):
            rows.append(place)
            continue
        possible = _possible(fit, season, asked)
        schedule = None
        if any(one.name == "pulls" for one in possible):
            schedule = continued(fit.campaign, season, pulls)
        drawn = _at_draws(fit, season, schedule, rng)
        truths = evenly_spaced(len(drawn.left), TRUTHS)
        told = {one: log_weight(drawn, one, truths, rng) for one in possible}
        found = [(_worth(drawn, told[one]), one) for one in possible]
        found.sort(key=lambda pair: -pair[0]["narrower"])
        prices = {one: cost(fit.campaign.settings, one, schedule) for one in possible}
        rows += [
            {**place, "measurement": one.name, "fish": one.fish, **numbers,
             **_priced(fit, numbers, prices[one])}
            for numbers, one in found
        ]  # fmt: skip
        if len(possible) > 1:
            numbers = _worth(drawn, np.sum(list(told.values()), axis=0))
            together = _priced(fit, numbers, float(np.sum(list(prices.values()))))
            rows.append({**place, "measurement": "all", **numbers, **together})
    return pd.DataFrame(rows, columns=list(COLUMNS))


def cost(settings: Settings, measured: Measurement, schedule: Schedule | None) -> float:
    """Return what a measurement costs by the prices of a campaign; NaN without its price."""
    number = measured.fish
    if measured.name == "pulls":
        if settings.cost_per_pull is None or schedule is None:
            return float("nan")
        days = float(schedule.field_days[-1]) * (settings.cost_per_field_day or 0.0)
        return number * settings.cost_per_pull + days
    price, each = {
        "pen": (settings.cost_per_penned_fish, number),
        "double_marks": (settings.cost_per_double_mark, number),
        "antenna": (settings.cost_per_antenna, 1),
        "second_gear": (settings.cost_per_survey, 1),
        "weights": (settings.cost_per_weighed_fish, number),
    }[measured.name]
    return float("nan") if price is None else price * each


def _priced(fit: FittedCampaign, numbers: dict[str, float], price: float) -> dict[str, Any]:
    settings = fit.campaign.settings
    per = 1_000.0 * numbers["narrower"] / price if price > 0.0 else float("nan")
    currency = "" if np.isnan(price) else settings.currency or ""
    return {"cost": price, "currency": currency, "narrower_per_1000": per}


def _possible(fit: FittedCampaign, season: int, asked: dict[str, int]) -> list[Measurement]:
    """Return what can be measured in a lake: no antenna without tags, no marks without marks."""
    batches = fit.campaign.batches
    mine = batches["season_index"].values == season
    tagged = mine & (batches["mark"].values != "fin_clip")
    doubled = mine & (batches["mark"].values == "both")
    tags, double = (
        int(batches["released_alive"].values[which].sum()) for which in (tagged, doubled)
    )
    numbers = dict(asked)
    numbers["antenna"] = min(asked["antenna"] or tags, tags)
    numbers["double_marks"] = min(asked["double_marks"], double)
    if not fit.campaign.seasons["marks_left"].values[season] > 0:
        numbers |= {"pen": 0, "second_gear": 0, "double_marks": 0}
    if fit.spec.part("evidence") == "marks":
        # Without catches in the likelihood there is no catchability to predict them by.
        numbers["pulls"] = 0
    return [Measurement(name, number) for name, number in numbers.items() if number > 0]


def _at_draws(
    fit: FittedCampaign, season: int, schedule: Schedule | None, rng: np.random.Generator
) -> LakeDraws:
    posterior = thinned(fit.tree["posterior"].to_dataset(), WEIGHED)
    quantities = thinned(fit.quantities, WEIGHED).isel(season=season)
    clip, tag, alive = (
        _value(posterior, name, season, fit)
        for name in ("clip_retention", "tag_retention", "post_release_survival")
    )
    kinds = fit.data.counts.kinds_at_large[season]
    retained = still_marked(kinds[None, :, None], clip, tag)[0]
    stays = np.ravel(rates_at_draws(posterior).staying(fit.data.times.marked_years[season]))
    there = alive * stays
    seasons = fit.campaign.seasons.isel(season=season)
    marks = np.full(len(alive), float(seasons["marks_left"]))
    if "carried_marks" in posterior:
        marks += posterior["carried_marks"].values[:, season] - float(seasons["carried_most"])
    fish = quantities["abundance_after"].values
    marks = np.clip(marks, 1e-9, np.maximum(fish - 1.0, 1e-9))
    there = there * _value(posterior, "mark_detection", season, fit, absent=1.0)
    in_nets = _value(posterior, "capture_odds_ratio", season, fit, absent=1.0)
    left = share_left(float(seasons["gone"]), quantities["abundance_before"].values)
    there = still_there(np.minimum(retained * there, 1.0), left, in_nets)
    odds = marks * there / np.maximum(fish - marks * there, 1.0)
    in_catches = odds * in_nets
    return LakeDraws(
        left=np.maximum(quantities["biomass_after"].values, 1e-9),
        alive=alive,
        clip=clip,
        tag=tag,
        retained=retained,
        tag_there=tag * alive * stays,
        marked_odds=odds,
        weight=quantities["mean_weight"].values,
        clumping=_value(posterior, "clumping", season, fit),
        weight_variation=_value(posterior, "weight_variation", season, fit),
        pull_spread=_value(posterior, "weight_pull_spread", season, fit),
        gear_odds=prior_of(fit, "second_gear_odds").numbers,
        threshold=float(fit.campaign.lake_of(season)["threshold"]),
        pulls=_to_come(fit, season, schedule, in_catches, rng) if schedule else None,
    )


def _to_come(
    fit: FittedCampaign,
    season: int,
    schedule: Schedule,
    marked_odds: FloatArray,
    rng: np.random.Generator,
) -> PullsToCome:
    """Simulate pulls once for every draw that is weighed."""
    come = simulate(fit, season, schedule, rng)
    hazard = np.clip(come.hazard, LEAST_HAZARD, MOST_HAZARD)
    lake = np.full(hazard.shape[1], fit.data.lake_of_season[season])
    posterior = fit.tree["posterior"].dataset
    schooling = schooling_of_pulls(posterior, fit.spec, fit.data.area, lake, hazard)
    # The draws that `thinned` leaves.
    kept = evenly_spaced(len(hazard), WEIGHED)
    return PullsToCome(
        fish=vulnerable_fish(fit, season)[kept],
        hazard=hazard[kept],
        caught=come.catch[kept],
        schooling=None if schooling is None else schooling[kept],
        marked_odds=marked_odds,
    )


def _value(
    posterior: xr.Dataset, name: str, season: int, fit: FittedCampaign, *, absent: float = 0.0
) -> FloatArray:
    """Return draws of a parameter, for the lake of a season where each has its own."""
    if name not in posterior:
        return np.full(posterior.sizes["sample"], absent)
    values = posterior[name]
    if "lake" in values.dims:
        values = values.isel(lake=int(fit.campaign.seasons["lake_index"].values[season]))
    found: FloatArray = values.values
    return found


def _worth(lake: LakeDraws, told: FloatArray) -> dict[str, float]:
    """Return how far the interval narrows, by the weights of all draws for each truth."""
    weight = np.exp(told - told.max(axis=1, keepdims=True))
    weight /= weight.sum(axis=1, keepdims=True)
    order = np.argsort(lake.left)
    left, cumulated = np.log(lake.left[order]), np.cumsum(weight[:, order], axis=1)
    ends = np.array([[np.interp(tail, row, left) for tail in TAILS] for row in cumulated])
    now = float(np.subtract(*np.quantile(np.log(lake.left), TAILS[::-1])))
    then = ends[:, 1] - ends[:, 0]
    below = (weight * (lake.left < lake.threshold)).sum(axis=1)
    firm = (np.maximum(below, 1.0 - below) >= FIRM).astype(float)
    now_below = float((lake.left < lake.threshold).mean())
    error = np.sqrt(len(told))
    chance = (firm.sum() + 0.5) / (len(firm) + 1.0)
    return {
        "narrower": 1.0 - float(then.mean()) / now,
        "narrower_mc_error": float(then.std(ddof=1)) / error / now,
        "ratio_now": float(np.exp(now)),
        "ratio_expected": float(np.exp(then.mean())),
        "firm_now": float(max(now_below, 1.0 - now_below) >= FIRM),
        "firm_expected": float(chance),
        "firm_mc_error": float(np.sqrt(chance * (1.0 - chance)) / error),
        "draws": float(np.quantile(1.0 / (weight**2).sum(axis=1), 0.1)),
    }
