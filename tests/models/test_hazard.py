"""Each optional part against its own formula: the graph's hazard, read off at fixed values."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

import fishdown
from fishdown.models.array_library import NUMPY
from fishdown.models.data import fitting_spec, model_data
from fishdown.models.parts.temperature import cooling_effect, threshold_effect
from fishdown.models.parts.temperature.smooth import (
    SMOOTH_BASIS,
    SMOOTH_RANGE,
    SMOOTH_WALLS,
    smooth_curve,
)
from fishdown.worlds import LakeTruth, World, simulate

LAKES = (LakeTruth("Alder", 20.0, 2_000), LakeTruth("Birch", 45.0, 3_000))


@pytest.fixture(scope="module")
def campaign() -> fishdown.Campaign:
    return simulate(World(LAKES, rounds=6, nets=3), np.random.default_rng(2))[0]


def hazard(
    campaign: fishdown.Campaign, name: str, values: dict[str, Any], **parts: str
) -> tuple[np.ndarray, Any]:
    """Log-hazard of every pull with free variables set to `values`, less its mean effects."""
    import pymc as pm
    import pytensor.tensor as pt

    from fishdown.models.hazard import log_hazard

    spec, _ = fitting_spec(campaign, fishdown.read_model(name).with_parts(pooling="none", **parts))
    data = model_data(campaign, spec)
    coords = {"lake": ["Alder", "Birch"], "season": ["Alder 2025", "Birch 2025"]}
    with pm.Model(coords=coords) as model:
        model.add_coord("net", length=len(data.pulls.nets))
        fish = pt.as_tensor(np.array([2_000.0, 3_000.0]))
        out, _ = log_hazard(spec, data, data.nodes(), fish)
    given = [(model[key], np.asarray(value, dtype=float)) for key, value in values.items()]
    missing = {variable.name for variable in model.free_RVs} - set(values)
    assert not missing, missing
    return out.eval(dict(given)), data


def relative(found: np.ndarray, data: Any) -> np.ndarray:
    """Differences from each lake's first pull: what the effects alone say."""
    lake = data.catches.lake
    first = np.array([found[lake == one][0] for one in (0, 1)])
    return found - first[lake]


def pulled_before(campaign: fishdown.Campaign) -> np.ndarray:
    """Whether the net of a pull was pulled before in the season: by pandas, not by our own."""
    pulls = campaign.pulls[["season_index", "net"]].to_dataframe()
    again: np.ndarray = pulls.duplicated(["season_index", "net"]).to_numpy()
    assert 0 < again.sum() < len(again)
    return again


@pytest.mark.parametrize("shape", ["log_linear", "threshold_curve"])
def test_shapes_of_the_cold(campaign: fishdown.Campaign, shape: str) -> None:
    values: dict[str, Any] = {"typical_catch": [30.0, 20.0]}
    if shape == "log_linear":
        values["temperature_effect"] = [0.4, 0.7]
        name = "one_lake"
    else:
        values |= {"threshold_temperature": [13.0, 11.0], "threshold_width": 2.0}
        name = "detailed_nets"
    plain = {"nets": "alike", "nights": "alike", "drift": "none", "first_pulls": "alike",
             "mesh": "none", "rest": "none", "bait": "none"}  # fmt: skip
    found, data = hazard(campaign, name, values, **plain)
    lake, T = data.catches.lake, data.effects["temperature"].value
    if shape == "log_linear":
        expected = cooling_effect(T, np.log(np.array([0.4, 0.7]))[lake], 20.0)
    else:
        expected = threshold_effect(T, np.array([13.0, 11.0])[lake], 2.0, 20.0)
    assert relative(found, data) == pytest.approx(relative(expected, data), abs=1e-10)


def test_nets_mesh_rest_and_bait_multiply(campaign: fishdown.Campaign) -> None:
    steps = np.array([0.5, -1.0, 0.2, 1.5, 0.0, -0.3])
    values = {
        "typical_catch": [30.0, 20.0],
        "net_spread": 0.4,
        "net_step": steps,
        "mesh_effect": 0.7,
        "later_pulls": 0.6,
        "rest_loss": 0.5,
        "rest_recovery": 4.0,
        "bait_start": 0.3,
        "bait_build_up": 3.0,
    }
    spec = {"temperature": "none", "nights": "alike", "drift": "none"}
    found, data = hazard(campaign, "detailed_nets", values, **spec)
    rest, bait = data.effects["rest"].days, data.effects["bait"].days
    expected = (
        0.4 * steps[data.pulls.net]
        + np.log(0.7) * data.effects["mesh"].doublings
        + np.where(pulled_before(campaign), np.log(0.6), 0.0)
        + np.log(1.0 - 0.5 * np.exp(-rest / 4.0))
        + np.log(1.0 - 0.7 * np.exp(-bait / 3.0))
    )
    assert relative(found, data) == pytest.approx(relative(expected, data), abs=1e-10)
    # The typical catch is the mean hazard times the mean fish over a lake's pulls.
    lake = data.catches.lake
    for one, fish in enumerate((2_000.0, 3_000.0)):
        mine = lake == one
        typical = np.log(np.mean(fish - data.catches.gone_before[mine])) + found[mine].mean()
        assert np.exp(typical) == pytest.approx(values["typical_catch"][one])


def test_nights_and_drift_multiply(campaign: fishdown.Campaign) -> None:
    rng = np.random.default_rng(4)
    pulls = campaign.pulls[["season_index", "date"]].to_dataframe()
    nights = pulls.drop_duplicates(["season_index", "date"]).reset_index(drop=True)
    steps, waves = rng.normal(size=len(nights)), rng.normal(size=(2, 20))
    values = {
        "typical_catch": [30.0, 20.0], "night_spread": 0.3, "night_step": steps,
        "drift_size": 0.4, "drift_days": 15.0, "drift_step": waves,
    }  # fmt: skip
    plain = {"nets": "alike", "first_pulls": "alike", "temperature": "none"}
    found, data = hazard(campaign, "one_lake", values, **plain)
    night = pulls.merge(nights.reset_index(), on=["season_index", "date"], how="left")["index"]
    first = pulls.groupby("season_index")["date"].transform("min")
    turn = 2.0 * np.pi * (pulls["date"] - first).dt.days.to_numpy() / 240.0
    process = np.zeros(len(pulls))
    for wave in range(1, 11):
        # The integral of the covariance times a cosine over the circle, by brute force.
        days = np.linspace(-120.0, 120.0, 4_801)
        covariance = 0.4**2 * np.exp(-0.5 * (days / 15.0) ** 2)
        variance = (
            np.trapezoid(covariance * np.cos(2.0 * np.pi * wave * days / 240.0), days) / 120.0
        )
        a, b = waves[data.pulls.season, wave - 1], waves[data.pulls.season, wave + 9]
        process += np.sqrt(variance) * (a * np.cos(wave * turn) + b * np.sin(wave * turn))
    expected = 0.3 * steps[night.to_numpy()] + process
    assert relative(found, data) == pytest.approx(relative(expected, data), abs=1e-8)


def test_smooth_curve_is_a_gaussian_process() -> None:
    """The basis reproduces the squared-exponential covariance to 1 % of its variance."""
    import pymc as pm

    T = np.linspace(4.0, 28.0, 13)
    one = np.ones((SMOOTH_BASIS, 1))
    weighted = smooth_curve(NUMPY, T, one, 7.0 * one, np.eye(SMOOTH_BASIS)).T
    exact = np.exp(-0.5 * ((T[:, None] - T) / 7.0) ** 2)
    assert weighted @ weighted.T == pytest.approx(exact, abs=0.01)
    # And it is the basis that PyMC has for it.
    low, high = SMOOTH_RANGE
    half = (high - low) / 2.0
    kernel = pm.gp.cov.ExpQuad(1, ls=7.0 / half)
    process = pm.gp.HSGP(m=[SMOOTH_BASIS], L=[SMOOTH_WALLS], cov_func=kernel)
    # The first call fixes the centre of the basis.
    process.prior_linearized(np.array([[-1.0], [1.0]]))
    basis, root = process.prior_linearized(((T - (low + high) / 2.0) / half)[:, None])
    assert weighted == pytest.approx((basis * root).eval(), rel=1e-9)


def test_a_part_that_records_cannot_feed_falls_away(campaign: fishdown.Campaign) -> None:
    from dataclasses import replace

    first_net = campaign.pulls["net"].values == "net 1"
    thin = campaign.pulls.isel(pull=first_net)
    thin = thin.assign(bait_days=("pull", np.full(int(first_net.sum()), np.nan)))
    spec, notes = fitting_spec(replace(campaign, pulls=thin), fishdown.read_model("detailed_nets"))
    names = ("nets", "nights", "drift", "first_pulls", "mesh", "rest", "bait")
    parts = {part: spec.part(part) for part in names}
    assert parts == {
        "nets": "alike",
        "nights": "alike",
        "drift": "smooth",
        "first_pulls": "best",
        "mesh": "none",
        "rest": "recovering",
        "bait": "none",
    }
    assert len(notes) == 4


def test_nets_pulled_once_are_not_told_apart(campaign: fishdown.Campaign) -> None:
    from dataclasses import replace

    once = campaign.pulls.isel(pull=~pulled_before(campaign))
    spec, notes = fitting_spec(replace(campaign, pulls=once), fishdown.read_model("pooled_lakes"))
    assert (spec.part("nets"), spec.part("first_pulls")) == ("alike", "alike")
    assert notes == (
        "no net was pulled twice: no differences between nets",
        "one night in each season: no differences between nights",
        "no season has pulls on 3 dates over 10 days: "
        "no slow change of the share that a pull takes",
        "no net was pulled twice in a season: no effect of first pulls",
    )
