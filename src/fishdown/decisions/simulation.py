"""Pulls to come, simulated once for each draw of a fit; `models/README.md`, "Ahead"."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fishdown.decisions.climatology import days_of, drawn, readings_of
from fishdown.equality import by_value
from fishdown.errors import PlanError
from fishdown.models.data import active_effects
from fishdown.models.inputs import of_pulls
from fishdown.models.parts.catch import beta_shape
from fishdown.models.parts.temperature import TEMPERATURE, at_temperatures
from fishdown.models.pull_table import PullTable
from fishdown.posterior.other_pulls import with_steps_of
from fishdown.posterior.pull_hazard import pull_hazard, schooling_of_pulls, stacked
from fishdown.posterior.quantities import fish_left
from fishdown.records.covariates import COVARIATES

if TYPE_CHECKING:
    import xarray as xr

    from fishdown.decisions.schedule import Schedule
    from fishdown.posterior.fitted import FittedCampaign
    from fishdown.typing import FloatArray

LEAST_HAZARD, MOST_HAZARD = 1e-12, 100.0


@by_value
@dataclass(frozen=True)
class Simulated:
    """What the pulls to come may bring, draws of all chains one behind the other.

    Attributes
    ----------
    temperature : ndarray, shape (draw, pull)
        °C; NaN where neither the plan nor a reading nor the model gives one.
    hazard : ndarray, shape (draw, pull)
        Dimensionless.
    catch : ndarray, shape (draw, pull)
        Fish, all taken to be removed.
    mean_catch : ndarray, shape (draw, pull)
        What each draw expects of a pull, given the fish that the pulls before it left: their mean
        is far less noisy than that of `catch`.
    """

    temperature: FloatArray
    hazard: FloatArray
    catch: FloatArray
    mean_catch: FloatArray


def simulate(
    fit: FittedCampaign, season: int, schedule: Schedule, rng: np.random.Generator
) -> Simulated:
    """Continue a season pull by pull, once for each draw.

    Parameters
    ----------
    season : int
        Position of the season that is continued.

    Raises
    ------
    PlanError
        If the model has no catchability (mark–recapture only).
    """
    if fit.spec.part("evidence") == "marks":
        raise PlanError(
            f"the model {fit.spec.name} uses mark–recapture only and does not estimate "
            "catchability; fit a model with catches, such as one_lake"
        )
    temperature = _temperature(fit, season, schedule, rng)
    hazard = hazard_ahead(fit, season, schedule, temperature, rng)
    lake = np.full(hazard.shape[1], fit.data.lake_of_season[season])
    posterior = fit.tree["posterior"].dataset
    # Scatter follows the hazard, which water to come may draw beyond all numbers.
    possible = np.clip(hazard, LEAST_HAZARD, MOST_HAZARD)
    schooling = schooling_of_pulls(posterior, fit.spec, fit.data.area, lake, possible)
    fish = vulnerable_fish(fit, season)
    catch = catches(fish, hazard, schooling, rng)
    before = np.rint(fish)[:, None] - (np.cumsum(catch, axis=1) - catch)
    return Simulated(temperature, hazard, catch, -np.expm1(-hazard) * before)


def vulnerable_fish(fit: FittedCampaign, season: int) -> FloatArray:
    """Return the vulnerable fish after a season's last pull, shape (draw,)."""
    posterior = fit.tree["posterior"].dataset
    before = posterior["abundance"]
    if fit.spec.part("vulnerable") == "some":
        before = before * posterior["vulnerable"]
    return stacked(fish_left(before, posterior, fit.campaign).isel(season=season))


def catches(
    fish: FloatArray, hazard: FloatArray, schooling: FloatArray | None, rng: np.random.Generator
) -> FloatArray:
    """Draw catches one after the other, each from the fish that the last one left.

    Parameters
    ----------
    fish : ndarray, shape (draw,)
        Before the first pull; the nearest whole number counts.
    hazard : ndarray, shape (draw, pull)
        h; the mean share of a pull is 1 − exp(−h).
    schooling : ndarray, shape (draw, pull), or None
        Coefficient of variation s of that share; None for catches by chance.

    Returns
    -------
    ndarray, shape (draw, pull)
        Fish.
    """
    left = np.rint(fish).astype(np.int64)
    caught = np.zeros(hazard.shape)
    for pull in range(hazard.shape[1]):
        if schooling is None:
            share = -np.expm1(-hazard[:, pull])
        else:
            # Far below any catch, and where none is left, a beta has no numbers to draw from.
            clipped = np.clip(hazard[:, pull], LEAST_HAZARD, MOST_HAZARD)
            a, b = beta_shape(clipped, schooling[:, pull])
            share = rng.beta(a, b)
        taken = rng.binomial(left, share)
        caught[:, pull] = taken
        left = left - taken
    return caught


def hazard_ahead(
    fit: FittedCampaign,
    season: int,
    schedule: Schedule,
    temperature: FloatArray,
    rng: np.random.Generator,
) -> FloatArray:
    """Return the hazard of pulls to come, shape (draw, pull).

    What the fit knows of the season and its nets holds on; a net never pulled is drawn anew, and so
    is a night to come.
    """
    spec, lake = fit.spec, int(fit.data.lake_of_season[season])
    pulls, known = _pulls_ahead(fit, season, schedule)
    posterior = with_steps_of(_of_season(fit, season), spec, fit.data.pulls, pulls, rng)
    inputs = {
        effect.name: of_pulls(effect.inputs(pulls, fit.data.pulls), slice(known, None))
        for effect in active_effects(spec)
    }
    here = np.zeros(len(schedule.net), dtype=np.int64)
    if TEMPERATURE.name in inputs:
        # Those to come differ from draw to draw.
        reference = spec.reference_temperature
        known_water = np.where(np.isnan(temperature), reference, temperature)
        inputs[TEMPERATURE.name] = at_temperatures(known_water, here)
    hazard = pull_hazard(posterior, spec, fit.data.area[[lake]], here, inputs)
    return np.broadcast_to(hazard, temperature.shape)


def _of_season(fit: FittedCampaign, season: int) -> xr.Dataset:
    """Return the draws of one season and its lake: others would only cost time."""
    posterior = fit.tree["posterior"].to_dataset().drop_vars("temperature_step", errors="ignore")
    lake = int(fit.data.lake_of_season[season])
    where = {"season": [season], "lake": [lake]}
    return posterior.isel({dim: place for dim, place in where.items() if dim in posterior.dims})


def _pulls_ahead(fit: FittedCampaign, season: int, schedule: Schedule) -> tuple[PullTable, int]:
    """Return a season's pulls with those to come behind them.

    The season is the only one of the table, and its lake the only lake; the nets are counted among
    those of the lake, strangers last.

    Returns
    -------
    pulls : PullTable
    known : int
        How many of the pulls are on record.
    """
    on_record = fit.data.pulls
    lake = fit.data.lake_of_season[season]
    here = on_record.lake == lake
    nets = np.unique(on_record.net[here])
    place = {on_record.nets[net][1]: number for number, net in enumerate(nets)}
    strangers = [name for name in dict.fromkeys(schedule.net) if name not in place]
    place |= {name: len(nets) + number for number, name in enumerate(strangers)}
    mine = np.flatnonzero(on_record.season == season)
    ahead = [place[name] for name in schedule.net]
    # In the fit; a stranger has none.
    numbers = [int(nets[one]) if one < len(nets) else -1 for one in ahead]
    net = np.array([*np.searchsorted(nets, on_record.net[mine]), *ahead], dtype=np.int64)
    columns = {}
    for column, values in on_record.columns.items():
        to_come = np.full(len(ahead), np.nan)
        covariate = COVARIATES.get(column)
        if covariate is not None and not covariate.of_net and not np.isnan(values[mine]).all():
            to_come[:] = np.nanmedian(values[mine])
        elif covariate is not None and covariate.of_net:
            last = dict(zip(on_record.net[here].tolist(), values[here].tolist(), strict=True))
            to_come[:] = [last.get(number, np.nan) for number in numbers]
        elif column == "relative_area":
            # The water stays as high as it was at the last pull.
            to_come[:] = values[mine][-1]
        columns[column] = np.concatenate([values[mine], to_come])
    nowhere = np.zeros(len(net), dtype=np.int64)
    name = on_record.seasons[season]
    table = PullTable(
        season=nowhere,
        lake=nowhere,
        seasons=(name,),
        net=net,
        nets=tuple((name[0], net) for net in place),
        date=np.concatenate(
            [on_record.date[mine].astype("datetime64[D]"), schedule.date.astype("datetime64[D]")]
        ),
        columns=columns,
    )
    return table, len(mine)


def _temperature(
    fit: FittedCampaign, season: int, schedule: Schedule, rng: np.random.Generator
) -> FloatArray:
    posterior = fit.tree["posterior"].dataset
    draws = posterior.sizes["chain"] * posterior.sizes["draw"]
    given = np.broadcast_to(schedule.temperature, (draws, len(schedule.net)))
    if not np.isnan(schedule.temperature).any():
        return given
    lake = int(fit.campaign.seasons["lake_index"].values[season])
    readings = readings_of(fit.campaign, lake)
    if not len(readings.day):
        return given
    told = drawn(readings, lake, days_of(schedule.date), draws, rng)
    return np.where(np.isnan(given), told, given)
