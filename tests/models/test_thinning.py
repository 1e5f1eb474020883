"""Marks that count by chance, against SciPy's binomial and quadrature."""

from itertools import pairwise

import numpy as np
import pytest
from scipy import stats
from scipy.integrate import quad

from fishdown.models.coordinates import ShareThatCounts, share_ends
from fishdown.models.parts.marks.thinning import (
    share_log_density,
    thinning_log_density,
    thinning_mass,
)

CHANCES = (0.4, 0.8, 0.95, 0.99, 0.999, 1.0 - 1e-6, 1.0 - 1e-10)


def test_thinning_is_binomial() -> None:
    kept = np.arange(13.0)
    found = thinning_log_density(kept, 12.0 - kept, 0.37)
    assert found == pytest.approx(stats.binom.logpmf(kept, 12, 0.37), rel=1e-12)
    # On the continuous scale, from half a fish below to half a fish above, it sums to nearly one.
    fine = np.linspace(-0.499, 12.499, 4_001)
    density = np.exp(thinning_log_density(fine, 12.0 - fine, 0.37))
    assert np.trapezoid(density, fine) == pytest.approx(1.0, abs=0.002)


@pytest.mark.parametrize("marks", [1, 4, 9, 10, 60, 300])
@pytest.mark.parametrize("chance", CHANCES)
def test_the_mass_is_that_of_quadrature(marks: int, chance: float) -> None:
    edges = np.arange(-0.5, marks + 1.0)
    mass = sum(
        quad(lambda lost: np.exp(thinning_log_density(marks - lost, lost, chance)), low, high)[0]
        for low, high in pairwise(edges)
    )
    found = thinning_mass(np.array([float(marks)]), np.array([chance]))
    assert found == pytest.approx([mass], rel=0.0013)


@pytest.mark.parametrize("chance", CHANCES)
def test_shares_of_any_chance_have_the_same_mass(chance: float) -> None:
    """Or records that say nothing would prefer one chance to another."""
    marks = np.array([40.0])
    low, high = share_ends(marks, 0.0)
    # Evenly in the logarithm of the way to the upper end, where a chance near one has its mass.
    way = np.geomspace(1e-9, high - low, 40_001).ravel()
    density = np.exp(share_log_density(marks, high - way, np.array([chance])))
    assert 40.0 * np.trapezoid(density * way, np.log(way)) == pytest.approx(1.0, abs=0.003)


@pytest.mark.parametrize("chance", CHANCES)
@pytest.mark.parametrize("smallest", [0.0, 0.6])
def test_steps_go_through_all_shares(chance: float, smallest: float) -> None:
    """Up to both ends, and as steeply as is said: by central differences."""
    marks, least = np.array([40.0]), np.array([smallest])

    walk = ShareThatCounts(marks, least, np.array([chance]))
    steps, h = np.linspace(-3.0, 3.0, 25), 1e-5
    slope = (walk.reached(steps + h) - walk.reached(steps - h)) / (2.0 * h)
    np.testing.assert_allclose(np.exp(walk.log_slope(steps)), slope, rtol=1e-5)
    np.testing.assert_allclose(walk.walked(walk.reached(steps)), steps, atol=1e-7)
    low, high = share_ends(marks, least)
    assert walk.reached(np.array([-2_000.0])) == pytest.approx(low, abs=1e-6)
    assert walk.reached(np.array([60.0])) == pytest.approx(high, abs=1e-6)


def test_without_marks_the_chance_says_nothing() -> None:
    none, chances = np.zeros(3), np.array([0.1, 0.5, 0.99999])
    assert thinning_mass(none, chances).tolist() == [1.0, 1.0, 1.0]
    assert share_log_density(none, np.full(3, 0.7), chances).tolist() == [0.0, 0.0, 0.0]
