from __future__ import annotations

import numpy as np
import pytest

from fishdown.models.parts.temperature import cooling_effect
from fishdown.models.parts.temperature.readings import (
    BORROWED_SD,
    DRIFT_SD,
    READING_SD,
    guess_missing,
)

DAYS = np.array(["2025-06-01", "2025-06-05", "2025-06-11", "2025-06-03"], "datetime64[D]")


def test_ten_degrees_colder_leave_the_factor() -> None:
    assert np.exp(cooling_effect(10.0, np.log(0.3), 20.0)) == pytest.approx(0.3)
    assert cooling_effect(20.0, np.log(0.3), 20.0) == 0.0


def test_missing_reading_is_interpolated_in_the_same_lake() -> None:
    guess = guess_missing(np.array([18.0, np.nan, 21.0, 5.0]), DAYS, np.array([0, 0, 0, 1]))
    assert guess.missing.tolist() == [1]
    assert guess.value[1] == pytest.approx(18.0 + 3.0 * 4 / 10)
    assert guess.sd[0] == pytest.approx(np.hypot(READING_SD, DRIFT_SD * 2.0))


def test_a_lake_without_readings_borrows_them() -> None:
    guess = guess_missing(np.array([18.0, 20.0, 21.0, np.nan]), DAYS, np.array([0, 0, 0, 1]))
    assert guess.value[3] == pytest.approx(19.0)
    assert guess.sd.tolist() == [BORROWED_SD]


def test_no_reading_at_all_is_left_alone() -> None:
    guess = guess_missing(np.full(4, np.nan), DAYS, np.zeros(4, int))
    assert not len(guess.missing)
    assert np.isnan(guess.value).all()
