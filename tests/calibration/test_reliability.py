"""Scores of stated probabilities: identities, forecasters known to be right or wrong."""

from __future__ import annotations

import numpy as np
import pytest
from reliability import isotonic, reliability


def test_parts_add_up_to_the_score() -> None:
    rng = np.random.default_rng(1)
    stated = rng.uniform(size=300)
    found = reliability(stated, rng.uniform(size=300) < stated**2)
    total = found.miscalibration - found.discrimination + found.uncertainty
    assert total == pytest.approx(found.brier, abs=1e-12)
    assert found.bins["count"].sum() == 300


def test_three_forecasts_by_hand() -> None:
    # Pooling 0.2 and 0.6 (outcomes 1, 0) gives ½ for both; 0.9 came true.
    found = reliability([0.9, 0.2, 0.6], [True, True, False])
    assert found.curve["happened"].tolist() == [0.5, 0.5, 1.0]
    assert found.brier == pytest.approx((0.1**2 + 0.8**2 + 0.6**2) / 3)
    assert found.miscalibration == pytest.approx(found.brier - 0.5 / 3)
    assert found.uncertainty == pytest.approx(2 / 9)


def test_right_and_overconfident_forecasters() -> None:
    rng = np.random.default_rng(2)
    truth = rng.uniform(size=800)
    happened = rng.uniform(size=800) < truth
    assert reliability(truth, happened).calibrated
    sure = np.clip(truth + 0.35 * np.sign(truth - 0.5), 0.001, 0.999)
    overconfident = reliability(sure, happened)
    assert not overconfident.calibrated
    assert overconfident.brier > reliability(truth, happened).brier


def test_equal_probabilities_are_one_step() -> None:
    found = reliability([0.5, 0.5, 0.5, 0.5], [True, False, False, False])
    assert found.curve["happened"].tolist() == [0.25] * 4
    assert found.discrimination == pytest.approx(0.0)


def test_the_band_holds_the_whole_curves_of_calibrated_forecasters() -> None:
    rng = np.random.default_rng(3)
    stated = np.concatenate([rng.uniform(size=60), rng.uniform(0.0, 0.02, size=60)])
    stated.sort()
    band = reliability(stated, rng.uniform(size=120) < stated).curve
    curves = np.array(
        [isotonic(stated, 1.0 * (rng.uniform(size=120) < stated)) for _ in range(1_000)]
    )
    inside = (curves >= band["low"].values) & (curves <= band["high"].values)
    # Both simulations count: standard error 0.9 %.
    assert inside.all(axis=1).mean() == pytest.approx(0.95, abs=0.03)
    # At each point by itself the usual band holds 90 %, but few whole curves.
    usual = (curves >= band["usual_low"].values) & (curves <= band["usual_high"].values)
    assert usual.mean() > 0.88
    assert usual.all(axis=1).mean() < 0.7


def test_a_curve_outside_its_band() -> None:
    rng = np.random.default_rng(4)
    stated = rng.uniform(size=500)
    assert not reliability(stated, rng.uniform(size=500) < stated**2).inside
