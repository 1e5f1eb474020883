"""What so many simulations can show: held against studies drawn from a wrong normal posterior."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from fishdown.calibration.detectable import (
    NOTICED,
    Detectable,
    detectable,
    held,
    place_distribution,
    simulations_needed,
)
from fishdown.checks.uniform import evenness, power

BAND = 0.995
STUDIES = 2_000


def noticed(simulations: int, bias: float, width: float) -> float:
    """Draw studies: truths are standard normal, the posterior's mean and spread are wrong."""
    truth = np.random.default_rng(3).normal(size=(STUDIES, simulations))
    places = stats.norm.cdf((truth - bias) / width)
    return float(np.mean([not evenness(one, BAND).even for one in places]))


@pytest.mark.parametrize("simulations", [20, 100])
def test_the_smallest_faults_are_noticed_in_four_studies_of_five(simulations: int) -> None:
    found = detectable(simulations, BAND)
    assert found.bias is not None
    assert found.narrower is not None
    error = 4.0 * np.sqrt(NOTICED * (1.0 - NOTICED) / STUDIES)
    assert noticed(simulations, found.bias, 1.0) == pytest.approx(NOTICED, abs=error)
    assert noticed(simulations, 0.0, 1.0 - found.narrower) == pytest.approx(NOTICED, abs=error)


def test_a_sound_model_is_noticed_as_often_as_the_band_allows() -> None:
    assert power(60, BAND, place_distribution(0.0, 1.0)) <= 1.0 - BAND
    assert power(60, BAND, place_distribution(0.0, 1.0)) > 0.0


def test_two_simulations_notice_nothing() -> None:
    found = detectable(2, BAND)
    assert found == detectable(0, BAND) == Detectable(None, None)
    assert "detect no fault" in found.sentence()
    assert not found.enough


def test_the_least_number_is_the_first_that_is_enough() -> None:
    least = simulations_needed(BAND)
    assert detectable(least, BAND).enough
    assert not detectable(least - 10, BAND).enough
    # More quantities share the false alarms, so that it takes more.
    assert simulations_needed(1.0 - 0.05 / 33) > simulations_needed(0.95)


def test_how_often_narrow_intervals_hold() -> None:
    assert held(0.0) == pytest.approx(0.9)
    assert held(0.5) == pytest.approx(2.0 * stats.norm.cdf(0.5 * stats.norm.ppf(0.95)) - 1.0)
