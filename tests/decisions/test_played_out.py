"""Forecasts made from the truth itself, against seasons played out fish by fish."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import xarray as xr

import fishdown
from fishdown import Fit
from fishdown.campaign import Campaign, from_records
from fishdown.checks.spread import places_among
from fishdown.checks.uniform import evenness
from fishdown.decisions.schedule import Schedule
from fishdown.decisions.simulation import simulate
from fishdown.models.data import fitting_spec
from fishdown.models.spec import ModelSpec
from fishdown.worlds import LakeTruth, World, simulate_records

SEASONS, DRAWS = 200, 200
LAKE = LakeTruth("Lake", 20.0, 900, area_fished_ha=1.3, temperature_effect=0.4, mean_weight=2.0)
WORLD = World(lakes=(LAKE,), rounds=6, schooling=0.8, marked=80, days_between=20.0)
DONE = 3 * WORLD.nets


def test_forecasts_from_the_truth_are_right() -> None:
    rng = np.random.default_rng(8)
    model = fishdown.read_model("one_lake").with_parts(
        nets="alike", nights="alike", drift="none", first_pulls="alike"
    )
    total, single = [], []
    for _ in range(SEASONS):
        records, _ = simulate_records(WORLD, rng)
        first, rest = records.pulls.iloc[:DONE], records.pulls.iloc[DONE:]
        campaign = from_records(replace(records, pulls=first))
        known = _knowing(campaign, fitting_spec(campaign, model)[0])
        days = rest["date"].to_numpy(dtype="datetime64[D]")
        plan = Schedule(days, tuple(rest["net"]), rest["water_temp_c"].to_numpy(dtype=float))
        catch = simulate(known, 0, plan, rng).catch
        caught = rest["caught"].to_numpy(dtype=float)
        total.append(places_among(caught.sum(keepdims=True), catch.sum(axis=1, keepdims=True), rng))
        pull = rng.integers(len(caught), size=1)
        single.append(places_among(caught[pull], catch[:, pull], rng))
    for places in (total, single):
        assert evenness(np.concatenate(places), 0.999).even


def _knowing(campaign: Campaign, spec: ModelSpec) -> Fit:
    """Return a fit whose every draw is the truth."""
    dims, one = ("chain", "draw"), np.ones((2, DRAWS // 2))
    truth = {
        "abundance": ((*dims, "season"), LAKE.fish * one[..., None]),
        "area_fished_ha": ((*dims, "lake"), LAKE.area_fished_ha * one[..., None]),
        "temperature_effect": ((*dims, "lake"), LAKE.temperature_effect * one[..., None]),
        "schooling": ((*dims, "lake"), WORLD.schooling * one[..., None]),
    }
    posterior = xr.Dataset(truth, coords=campaign.coords)
    return Fit(campaign, spec, xr.DataTree.from_dict({"posterior": posterior}), {})
