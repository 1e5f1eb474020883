"""Nights and drift of pulls that were not fitted: pulls to come, and new pulls in mid-season."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest
import xarray as xr
from drawn_fits import drawn_fit, records

import fishdown
from fishdown import Fit
from fishdown.decisions.schedule import ordered
from fishdown.decisions.simulation import hazard_ahead
from fishdown.models.data import model_data
from fishdown.models.pull_table import by_night, pull_table
from fishdown.posterior.other_pulls import with_steps_of
from fishdown.posterior.pull_hazard import pull_hazard, stacked

SIZE = (4, 2_000)
LAKES = ("Ashmere", "Birkwater")
LAST = dt.date(2024, 7, 30)


@pytest.fixture(scope="module")
def campaign(tmp_path_factory: pytest.TempPathFactory) -> fishdown.Campaign:
    return fishdown.read(records(tmp_path_factory.mktemp("two") / "records", LAKES, marked=0))


def known(campaign: fishdown.Campaign, **parts: str) -> Fit:
    """Return a fit with the same catchability in all draws, and random nights and drift."""
    plain = {"nets": "alike", "first_pulls": "alike", "temperature": "none", "weights": "none",
             "nights": "alike", "drift": "none"}  # fmt: skip
    spec = fishdown.read_model("one_lake").with_parts(**plain)
    whole = fishdown.read_model("one_lake")
    names = fishdown.models.spec.needed_priors({**spec.parts, **parts})
    spec = replace(
        spec, parts={**spec.parts, **parts}, priors={name: whole.priors[name] for name in names}
    )
    data = model_data(campaign, spec)
    rng, dims, one = np.random.default_rng(1), ("chain", "draw"), np.ones(SIZE)
    nights = len(by_night(data.pulls)[0])
    found = {
        "abundance": ((*dims, "season"), 2_000.0 * np.ones((*SIZE, 2))),
        "area_fished_ha": ((*dims, "lake"), np.ones((*SIZE, 2))),
        "schooling": ((*dims, "lake"), np.full((*SIZE, 2), 0.7)),
        "night_spread": (dims, 0.4 * one),
        "night_step": ((*dims, "night"), rng.normal(size=(*SIZE, nights))),
        "drift_size": (dims, 0.3 * one),
        "drift_days": (dims, 20.0 * one),
        "drift_step": ((*dims, "stretch", "wave"), rng.normal(size=(*SIZE, 2, 20))),
        "drift_level": ((*dims, "season"), np.broadcast_to([0.0, 0.1], (*SIZE, 2))),
    }
    tree = xr.DataTree.from_dict({"posterior": xr.Dataset(found, coords=campaign.coords)})
    return Fit(campaign, spec, tree, {})


def ahead(fit: Fit, season: int, *days: int) -> np.ndarray:
    """Return the log-hazard so many days after the last pull, relative to catchability alone."""
    plan = ordered([(LAST + dt.timedelta(days=day), net, np.nan) for day in days for net in "AB"])
    hazard = hazard_ahead(fit, season, plan, np.full((8_000, len(plan.net)), np.nan),
                          np.random.default_rng(3))  # fmt: skip
    base = 1.0 / float(fit.campaign.lakes["area"].values[season])
    return np.log(hazard / base)


def test_a_night_to_come_is_a_night_like_any_other(campaign: fishdown.Campaign) -> None:
    fit = known(campaign, nights="differ")
    found = ahead(fit, 1, 0, 10, 20)
    # The nets of a night have the same factor, and tonight's is that of the pulls on record.
    np.testing.assert_allclose(found[:, ::2], found[:, 1::2])
    steps = stacked(fit.tree["posterior"].dataset["night_step"])
    labels = by_night(fit.data.pulls)[0]
    tonight = labels.index((LAKES[1], LAST.isoformat()))
    np.testing.assert_allclose(found[:, 0], 0.4 * steps[:, tonight])
    assert found[:, 2].std() == pytest.approx(0.4, rel=0.03)
    together = np.corrcoef(np.column_stack([found[:, ::2], 0.4 * steps[:, tonight - 1]]).T)
    assert np.abs(together - np.eye(4)).max() < 0.05


def test_drift_goes_on_as_its_process_and_reverts(campaign: fishdown.Campaign) -> None:
    """Given the pulls on record, a day to come is normal: exp(−t²/2ℓ²) between any two days."""
    fit = known(campaign, drift="smooth")
    pulls = fit.data.pulls
    hazard = pull_hazard(
        fit.tree["posterior"].dataset, fit.spec, fit.data.area, pulls.lake, fit.data.effects
    )
    last = np.log(hazard[:, np.flatnonzero(pulls.season == 0)[-1]] * fit.data.area[0])
    found = ahead(fit, 0, 0, 10, 20, 90)[:, ::2]
    np.testing.assert_allclose(found[:, 0], last)
    # The mean over the circle is not in it, neither then nor now.
    of_mean = np.sqrt(2.0 * np.pi) * 20.0 / 240.0
    exact = 0.09 * (np.exp(-0.5 * (np.array([0.0, 10.0, 20.0, 90.0]) / 20.0) ** 2) - of_mean)
    covariance = np.cov(found.T)
    assert covariance[0] == pytest.approx(exact, abs=0.004)
    assert np.diag(covariance) == pytest.approx(exact[0], rel=0.05)
    # Beyond what one process covers it begins anew.
    later = ahead(fit, 0, 0, 200)[:, ::2]
    assert abs(np.corrcoef(later.T)[0, 1]) < 0.04
    assert later[:, 1].std() == pytest.approx(np.sqrt(exact[0]), rel=0.05)


def test_the_season_s_level_is_that_of_the_pulls_that_were_fitted(
    campaign: fishdown.Campaign,
) -> None:
    first, second = known(campaign, drift="smooth"), known(campaign, drift="smooth")
    level = second.tree["posterior"]["drift_level"] + 0.5
    second.tree["posterior"].dataset = (
        second.tree["posterior"].to_dataset().assign(drift_level=level)
    )
    np.testing.assert_allclose(ahead(first, 1, 5) - ahead(second, 1, 5), 0.5)


def test_new_pulls_have_nights_of_their_own(campaign: fishdown.Campaign) -> None:
    """What was fitted keeps its steps, though the nights of two lakes are numbered anew."""
    fit = known(campaign, nights="differ", drift="smooth")
    index = campaign.pulls["season_index"].values
    # As if the first lake had not been netted yet, and the second three times.
    kept = np.zeros(len(index), dtype=bool)
    kept[np.flatnonzero(index == 1)[:6]] = True
    few = pull_table(campaign, kept)
    earlier = with_steps_of(
        fit.tree["posterior"].dataset, fit.spec, fit.data.pulls, few, np.random.default_rng(1)
    )
    again = with_steps_of(earlier, fit.spec, few, fit.data.pulls, np.random.default_rng(2))
    was, now = (one["night_step"].values for one in (fit.tree["posterior"].dataset, again))
    place = {night: number for number, night in enumerate(by_night(fit.data.pulls)[0])}
    old = [place[night] for night in by_night(few)[0]]
    new = np.setdiff1d(np.arange(len(place)), old)
    assert len(old) == 3
    np.testing.assert_array_equal(now[..., old], was[..., old])
    assert (now[..., new] != was[..., new]).all()
    assert now[..., new].std() == pytest.approx(1.0, abs=0.01)
    assert again["night_step"].coords["night"].values[old[0]] == "Birkwater 2024-06-10"
    np.testing.assert_array_equal(
        again["drift_step"].values[:, :, 1], fit.tree["posterior"]["drift_step"].values[:, :, 1]
    )


def test_a_drawn_fit_has_pulls_ahead(tmp_path_factory: pytest.TempPathFactory) -> None:
    fit = drawn_fit(records(tmp_path_factory.mktemp("one") / "records"), "many_years")
    assert (fit.spec.part("nights"), fit.spec.part("drift")) == ("differ", "smooth")
    assert np.isfinite(fit.ahead(6, despite_gate=True).frame()["probability_below"]).all()
