"""Water temperatures to come: against a regression, and where they must widen."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from drawn_fits import records

import fishdown
from fishdown.decisions import climatology
from fishdown.decisions.climatology import Readings, days_of, drawn, expected, readings_of

NOWHERE = Readings(np.array([]), np.array([], dtype=np.int64), np.array([]))


def yearly(day: np.ndarray) -> np.ndarray:
    """Return the water of an invented lake: 11 °C in the mean, 22 °C at the end of July."""
    return 11.0 - 11.0 * np.cos(2.0 * np.pi * (day - 27.0) / climatology.YEAR)


def test_without_readings_the_prior_answers() -> None:
    mean, covariance = expected(NOWHERE, 0, np.array([20_000.0]))
    assert mean[0] == climatology.LEVEL
    assert covariance[0, 0] == pytest.approx(6.0**2 + 8.0**2 + 3.0**2 + 2.0**2)


def test_it_is_bayesian_regression_when_nothing_strays(monkeypatch: pytest.MonkeyPatch) -> None:
    """Level and swing by the normal equations: Gelman et al. 2013, section 14.8 (from memory)."""
    monkeypatch.setattr(climatology, "STRAY_SD", 1e-6)
    monkeypatch.setattr(climatology, "BORROWED_SD", 1e-6)
    rng = np.random.default_rng(2)
    day = np.sort(rng.uniform(19_900.0, 20_400.0, 25))
    readings = Readings(day, np.zeros(25, dtype=np.int64), yearly(day) + rng.normal(0.0, 1.0, 25))
    new = np.array([20_450.0, 20_500.0])

    def basis(at: np.ndarray) -> np.ndarray:
        turn = 2.0 * np.pi * at / climatology.YEAR
        return np.stack([np.ones_like(at), np.cos(turn), np.sin(turn)], axis=1)

    precision = basis(day).T @ basis(day) + np.diag([1 / 36.0, 1 / 64.0, 1 / 64.0])
    centre = np.linalg.solve(
        precision, basis(day).T @ readings.celsius + np.array([12.0 / 36.0, 0.0, 0.0])
    )
    mean, covariance = expected(readings, 0, new)
    np.testing.assert_allclose(mean, basis(new) @ centre, rtol=1e-6)
    wanted = basis(new) @ np.linalg.solve(precision, basis(new).T)
    np.testing.assert_allclose(covariance, wanted, rtol=1e-6)


def test_two_years_of_readings_tell_the_third() -> None:
    day = np.concatenate([np.arange(100.0, 330.0, 7.0) + 365.0 * year for year in (50, 51)])
    readings = Readings(day, np.zeros(len(day), dtype=np.int64), yearly(day))
    new = np.arange(110.0, 320.0, 15.0) + 365.0 * 52
    mean, covariance = expected(readings, 0, new)
    assert np.abs(mean - yearly(new)).max() < 1.0
    assert np.sqrt(np.diag(covariance)).max() < 2.6


def test_it_is_less_sure_further_from_readings() -> None:
    day = np.arange(150.0, 240.0, 10.0) + 18_262.0
    readings = Readings(day, np.zeros(len(day), dtype=np.int64), yearly(day))
    ahead = day[-1] + np.array([1.0, 20.0, 60.0, 100.0])
    spread = np.sqrt(np.diag(expected(readings, 0, ahead)[1]))
    assert (np.diff(spread) > 0).all()
    assert spread[0] < 1.2
    # A summer's readings alone hardly tell December.
    assert spread[-1] > 3.0


def test_draws_have_the_mean_and_spread_and_are_water() -> None:
    day = np.arange(150.0, 240.0, 10.0) + 18_262.0
    readings = Readings(day, np.zeros(len(day), dtype=np.int64), yearly(day))
    new = np.array([250.0, 250.0, 270.0]) + 18_262.0
    found = drawn(readings, 0, new, 40_000, np.random.default_rng(3))
    mean, covariance = expected(readings, 0, np.unique(new))
    np.testing.assert_allclose(found[:, 1:].mean(axis=0), mean, atol=0.05)
    np.testing.assert_allclose(np.cov(found[:, 1:].T), covariance, rtol=0.05)
    np.testing.assert_array_equal(found[:, 0], found[:, 1])
    winter = drawn(readings, 0, np.array([380.0]) + 18_262.0, 2_000, np.random.default_rng(3))
    assert winter.min() == 0.0
    # Two days in June leave autumn open, but not beyond what water can be.
    few = Readings(day[:2], readings.lake[:2], yearly(day)[:2])
    autumn = drawn(few, 0, day[:2] + 120.0, 20_000, np.random.default_rng(3))
    assert autumn.max() == 40.0


def test_too_few_own_readings_borrow_the_others(tmp_path: Path) -> None:
    campaign = fishdown.read(records(tmp_path / "two", ["Ashmere", "Birkwater"]))
    own = readings_of(campaign, 0)
    assert set(own.lake) == {0}
    assert len(own.day) == 6
    pulls = campaign.pulls.copy(deep=True)
    mine = campaign.seasons["lake_index"].values[pulls["season_index"].values] == 0
    pulls["temperature"].values[np.flatnonzero(mine)[4:]] = np.nan
    from dataclasses import replace

    borrowed = readings_of(replace(campaign, pulls=pulls), 0)
    assert set(borrowed.lake) == {0, 1}
    assert (borrowed.lake == 0).sum() == 2


def test_days_are_whole() -> None:
    assert days_of(np.array(["1970-01-03"], dtype="datetime64[ns]")).tolist() == [2.0]
