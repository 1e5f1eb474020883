"""Pulls to come, simulated once for each draw of a fit; `models/README.md`, "Ahead"."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import xarray as xr

from fishdown.decisions.climatology import days_of, drawn, readings_of
from fishdown.equality import by_value
from fishdown.errors import PlanError
from fishdown.models.catch import beta_shape
from fishdown.models.nets import first_pulls, rest_days
from fishdown.models.temperature import TemperatureGuess
from fishdown.posterior.cooling import log_relative_hazard, stacked
from fishdown.posterior.pull_hazard import pull_hazard

if TYPE_CHECKING:
    from fishdown.decisions.schedule import Schedule
    from fishdown.models.data import ModelData
    from fishdown.posterior.fitted import FittedCampaign
    from fishdown.typing import FloatArray, IntArray

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
    fit : FittedCampaign
    season : int
        Position of the season that is continued.
    schedule : Schedule
    rng : numpy.random.Generator

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
    posterior = fit.tree["posterior"].dataset
    schooling = stacked(posterior["schooling"]) if fit.spec.part("catch") == "schooling" else None
    fish = within_reach(fit, season)
    catch = catches(fish, hazard, schooling, rng)
    before = np.rint(fish)[:, None] - (np.cumsum(catch, axis=1) - catch)
    return Simulated(temperature, hazard, catch, -np.expm1(-hazard) * before)


def within_reach(fit: FittedCampaign, season: int) -> FloatArray:
    """Return the fish that nets can reach after a season's last pull, shape (draw,)."""
    posterior = fit.tree["posterior"].dataset
    before = stacked(posterior["abundance"].isel(season=season))
    if fit.spec.part("reach") == "some":
        before = before * stacked(posterior["reach"])
    return np.maximum(before - float(fit.campaign.seasons["gone"].values[season]), 0.0)


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
    schooling : ndarray, shape (draw,), or None
        Coefficient of variation s of that share; None for catches by chance.
    rng : numpy.random.Generator

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
            a, b = beta_shape(np.clip(hazard[:, pull], LEAST_HAZARD, MOST_HAZARD), schooling)
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

    What the fit knows of the season and its nets holds on; a net never pulled is drawn anew.
    """
    reference = fit.spec.reference_temperature
    data, nets, strangers = _data_ahead(fit, season, schedule)
    posterior = _of_season(fit, season, nets)
    if fit.spec.part("nets") == "differ" and strangers:
        posterior = _with_strangers(posterior, strangers, rng)
    # At the reference temperature first, since those to come differ from draw to draw.
    hazard = pull_hazard(posterior, data, fit.spec)
    if fit.spec.part("temperature") == "none":
        return np.broadcast_to(hazard, temperature.shape)
    lake = data.lake_of_season[data.pull_season]
    known = np.where(np.isnan(temperature), reference, temperature)
    factor: FloatArray = np.exp(log_relative_hazard(posterior, fit.spec, known, lake))
    return hazard * factor


def _of_season(fit: FittedCampaign, season: int, nets: IntArray) -> xr.Dataset:
    """Return the draws of one season, its lake and these nets: others would only cost time."""
    posterior = fit.tree["posterior"].to_dataset().drop_vars("temperature_step", errors="ignore")
    where = {"season": [season], "lake": [int(fit.data.lake_of_season[season])]}
    if "net_step" in posterior:
        where[str(posterior["net_step"].dims[-1])] = nets.tolist()
    return posterior.isel({dim: place for dim, place in where.items() if dim in posterior.dims})


def _data_ahead(
    fit: FittedCampaign, season: int, schedule: Schedule
) -> tuple[ModelData, IntArray, int]:
    """Return the pulls to come, where their nets are in the fit, and how many it never saw.

    The season is the only one of the data, and its lake the only lake; the nets are counted
    among those that are returned, strangers last.
    """
    data = fit.data
    lake = data.lake_of_season[season]
    nets, last_mesh = _known_nets(fit, int(lake))
    known = {data.nets[net][1]: place for place, net in enumerate(nets)}
    strangers = [name for name in dict.fromkeys(schedule.net) if name not in known]
    known |= {name: len(known) + place for place, name in enumerate(strangers)}
    net = np.array([known[name] for name in schedule.net], dtype=np.int64)
    mine = data.pull_season == season
    count = len(net)
    later, rest = _pulled_before(fit, season, schedule)
    return (
        replace(
            data,
            area=data.area[[lake]],
            lake_of_season=np.zeros(1, dtype=np.int64),
            pull_season=np.zeros(count, dtype=np.int64),
            caught=np.zeros(count),
            gone_before=np.zeros(count),
            temperature=TemperatureGuess(
                np.full(count, fit.spec.reference_temperature),
                np.array([], dtype=np.int64),
                np.array([]),
            ),
            net=net,
            # A net never pulled has the median mesh.
            mesh_doublings=np.append(last_mesh, np.zeros(len(strangers)))[net],
            later=later,
            rest=rest,
            bait=np.full(count, float(np.median(data.bait[mine])) if mine.any() else 0.0),
        ),
        nets,
        len(strangers),
    )


def _known_nets(fit: FittedCampaign, lake: int) -> tuple[IntArray, FloatArray]:
    """Return the nets that were pulled in a lake, and the mesh that each had last, as doublings."""
    data = fit.data
    here = np.flatnonzero(data.lake_of_season[data.pull_season] == lake)
    # Pulls are in time order: of each net the last one, met first from behind.
    nets, behind = np.unique(data.net[here][::-1], return_index=True)
    return nets, data.mesh_doublings[here][::-1][behind]


def _pulled_before(
    fit: FittedCampaign, season: int, schedule: Schedule
) -> tuple[FloatArray, FloatArray]:
    """Return which pulls to come are a net's later ones, and the days since its last pull."""
    data = fit.data
    mine = data.pull_season == season
    pulls = fit.campaign.pulls
    days = pulls["date"].values[~pulls["spoiled"].values][mine].astype("datetime64[D]")
    pulled = [data.nets[net][1] for net in data.net[mine]]
    together = np.unique([*pulled, *schedule.net], return_inverse=True)[1]
    one = np.zeros_like(together)
    rest = rest_days(together, one, np.concatenate([days, schedule.date]))
    later = ~first_pulls(together, one)
    return later[len(days) :].astype(float), rest[len(days) :]


def _with_strangers(posterior: xr.Dataset, count: int, rng: np.random.Generator) -> xr.Dataset:
    step = posterior["net_step"].transpose("chain", "draw", ...)
    new = rng.standard_normal((*step.shape[:2], count))
    longer = np.concatenate([step.values, new], axis=2)
    return posterior.drop_vars("net_step").assign(net_step=(("chain", "draw", "net_ahead"), longer))


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
