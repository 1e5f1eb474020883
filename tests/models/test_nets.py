from __future__ import annotations

import numpy as np
import pytest

from fishdown.models.nets import LONG_REST, bait_effect, rest_days, rest_effect
from fishdown.models.temperature import threshold_effect


def test_a_net_pulled_again_at_once_has_lost_its_share() -> None:
    assert np.exp(rest_effect(0.0, 0.6, 5.0)) == pytest.approx(0.4)
    assert np.exp(rest_effect(5.0, 0.6, 5.0)) == pytest.approx(1.0 - 0.6 / np.e)
    assert rest_effect(LONG_REST, 0.6, 5.0) == pytest.approx(0.0, abs=1e-12)


def test_bait_builds_up_from_its_start() -> None:
    assert np.exp(bait_effect(0.0, 0.3, 4.0)) == pytest.approx(0.3)
    assert np.exp(bait_effect(4.0, 0.3, 4.0)) == pytest.approx(1.0 - 0.7 / np.e)


def test_rest_is_counted_by_net_and_season() -> None:
    net = np.array([0, 1, 0, 0, 0])
    season = np.array([0, 0, 0, 0, 1])
    date = np.array(["2025-06-01", "2025-06-01", "2025-06-04", "2025-06-04", "2026-06-01"])
    found = rest_days(net, season, date.astype("datetime64[ns]"))
    assert found.tolist() == [LONG_REST, LONG_REST, 3.0, 0.0, LONG_REST]


def test_threshold_halves_what_warm_water_has() -> None:
    # Far above the threshold the reference is "warm water", and at the threshold half is left.
    assert np.exp(threshold_effect(12.0, 12.0, 1.0, 60.0)) == pytest.approx(0.5)
    assert threshold_effect(20.0, 12.0, 2.0, 20.0) == 0.0
    logistic = 1.0 / (1.0 + np.exp((13.0 - 9.0) / 2.5)), 1.0 / (1.0 + np.exp((13.0 - 20.0) / 2.5))
    expected = np.log(logistic[0] / logistic[1])
    assert threshold_effect(9.0, 13.0, 2.5, 20.0) == pytest.approx(expected, rel=1e-12)
