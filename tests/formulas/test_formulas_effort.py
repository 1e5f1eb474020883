"""Catch per effort: Leslie and DeLury against a published example and scipy's regression."""

from __future__ import annotations

from math import exp, inf, log

import numpy as np
import pytest
from scipy import optimize, stats

from fishdown.errors import DesignError
from fishdown.formulas import k_passes, leslie, log_catch_per_effort

# Omand 1951, J. Wildl. Manage. 15:88–98, smallmouth bass of Little Silver Lake, 10 days × 7 traps
# (values from memory). No published answer is remembered; numbers are computed with numpy.
CATCHES = np.array([131, 69, 99, 78, 56, 76, 49, 42, 63, 47])
EFFORTS = np.full(10, 7)
EARLIER = np.cumsum(CATCHES) - CATCHES


@pytest.mark.parametrize(
    ("half_catch", "N", "q"), [(False, 1060.30, 0.014844), (True, 1077.57, 0.015251)]
)
def test_omand_leslie(half_catch, N, q):
    estimate = leslie(CATCHES, EFFORTS, half_catch=half_catch)
    assert estimate.abundance == pytest.approx(N, abs=0.005)
    assert estimate.catchability == pytest.approx(q, abs=5e-7)


@pytest.mark.parametrize(("half_effort", "N"), [(False, 1098.50), (True, 1150.42)])
def test_omand_delury(half_effort, N):
    estimate = log_catch_per_effort(CATCHES, EFFORTS, half_effort=half_effort)
    assert estimate.abundance == pytest.approx(N, abs=0.005)
    assert estimate.catchability == pytest.approx(0.013194, abs=5e-7)


def test_leslie_line_is_that_of_scipy():
    line = stats.linregress(EARLIER, CATCHES / EFFORTS)
    estimate = leslie(CATCHES, EFFORTS)
    assert estimate.catchability == pytest.approx(-line.slope)
    assert estimate.catchability_se == pytest.approx(line.stderr)
    assert estimate.abundance == pytest.approx(-line.intercept / line.slope)


def test_standard_errors_follow_from_numpys_covariance():
    """Delta method with the covariance matrix of numpy.polyfit."""
    (slope, intercept), covariance = np.polyfit(EARLIER, CATCHES / EFFORTS, 1, cov=True)
    gradient = np.array([intercept / slope**2, -1 / slope])  # of −intercept/slope
    expected = np.sqrt(gradient @ covariance @ gradient)
    assert leslie(CATCHES, EFFORTS).standard_error == pytest.approx(expected)

    effort = np.cumsum(EFFORTS) - EFFORTS
    (slope, intercept), covariance = np.polyfit(effort, np.log(CATCHES / EFFORTS), 1, cov=True)
    N = exp(intercept) / -slope
    gradient = np.array([-N / slope, N])  # of exp(intercept)/(−slope)
    expected = np.sqrt(gradient @ covariance @ gradient)
    assert log_catch_per_effort(CATCHES, EFFORTS).standard_error == pytest.approx(expected)


def test_leslie_limits_are_fiellers():
    """At either limit the line's height is just its Student margin, by scipy's regression."""
    line = stats.linregress(EARLIER, CATCHES / EFFORTS)
    estimate = leslie(CATCHES, EFFORTS)
    mean, n = EARLIER.mean(), EARLIER.size
    spread = ((EARLIER - mean) ** 2).sum()
    sigma = line.stderr * np.sqrt(spread)
    for limit in (estimate.low, estimate.high):
        height = line.intercept + line.slope * limit
        error = sigma * np.sqrt(1 / n + (limit - mean) ** 2 / spread)
        assert abs(height) == pytest.approx(stats.t.ppf(0.95, n - 2) * error)
    assert estimate.low < estimate.abundance < estimate.high


@pytest.mark.parametrize("half_effort", [False, True])
def test_delury_limits_are_those_of_the_profile(half_effort):
    """With N held at a limit, the best fit over q raises the residual squares by t²/(n − 2)."""
    effort = np.cumsum(EFFORTS) - EFFORTS + (3.5 if half_effort else 0)
    y = np.log(CATCHES / EFFORTS)

    def squares(N: float) -> float:
        return optimize.minimize_scalar(
            lambda log_q: ((y - log(N) - log_q + exp(log_q) * effort) ** 2).sum(),
            bounds=(-9, -2),
            method="bounded",
            options={"xatol": 1e-10},
        ).fun

    estimate = log_catch_per_effort(CATCHES, EFFORTS, half_effort=half_effort)
    allowed = squares(estimate.abundance) * (1 + stats.t.ppf(0.95, 8) ** 2 / 8)
    for limit in (estimate.low, estimate.high):
        assert squares(limit) == pytest.approx(allowed, rel=1e-6)


@pytest.mark.parametrize("level", [0.5, 0.9, 0.99, 0.9999])
def test_no_upper_limit_exactly_when_the_slope_may_be_zero(level):
    noisy = np.array([40, 22, 45, 18, 30, 24])
    straight = stats.linregress(np.cumsum(noisy) - noisy, noisy)
    logs = stats.linregress(np.arange(6), np.log(noisy))
    for estimate, line in (
        (leslie(noisy, np.ones(6), level=level), straight),
        (log_catch_per_effort(noisy, np.ones(6), level=level), logs),
    ):
        assert (estimate.high == inf) == (line.pvalue > 1 - level)
        assert ("too weak" in estimate.note) == (estimate.high == inf)
        assert noisy.sum() <= estimate.low <= estimate.abundance


def test_clean_depletion_is_recovered():
    """Catches of 20 % of what is left, whole numbers throughout; so is their logarithm's line."""
    catches = [625, 500, 400, 320, 256]  # of 3,125
    estimate = leslie(catches, [1] * 5)
    assert estimate.abundance == pytest.approx(3125)
    assert estimate.catchability == pytest.approx(0.2)
    assert estimate.standard_error == pytest.approx(0, abs=1e-6)
    # Fishing without pause at rate q takes 1 − exp(−q) per unit: q = −ln 0.8.
    logs = log_catch_per_effort(catches, [1] * 5)
    assert logs.catchability == pytest.approx(-log(0.8))


def test_removals_other_than_the_catch():
    """A failed net takes 125 fish between steps, and 78 of a later catch of 103 are put back."""
    # Before each step there were 1,000, 800, 640, 515 and 490 fish, of which a net takes 20 %.
    catches, efforts = [200, 160, 0, 103, 98], [1, 1, 0, 1, 1]
    estimate = leslie(catches, efforts, removed=[200, 160, 125, 25, 98])
    assert estimate.abundance == pytest.approx(1000)
    assert estimate.catchability == pytest.approx(0.2)
    ignoring = leslie(catches, efforts)
    assert abs(ignoring.abundance - 1000) > 50


def test_removal_is_low_when_catchability_falls():
    """Later passes 1.71 times less efficient than the first, 28 % efficient.

    Peterson, Thurow & Guzewich 2004, Trans. Am. Fish. Soc. 133:462–475.
    """
    left, catches = 1000.0, []
    for p in (0.28, 0.28 / 1.71, 0.28 / 1.71):
        catches.append(round(left * p))
        left -= catches[-1]
    assert k_passes(catches).high < 1000
    assert leslie(catches, [1, 1, 1]).abundance < 800


@pytest.mark.parametrize(
    ("catches", "efforts", "reason"),
    [
        ([20, 25, 30], [1, 1, 1], r"does not decline with cumulative catch \(slope \+"),
        ([20, 10], [1, 1], "2 points of catch per effort"),
        ([20, 0, 10], [1, 0, 1], "2 points of catch per effort"),
        ([20, 5, 10], [1, 0, 1], "a catch without effort"),
        ([0, 0, 0], [1, 1, 1], "no fish were caught"),
        ([100, 10, 40, 0, 30], [1, 1, 1, 1, 1], "zero at 166 fish, but 180 were removed"),
        ([20, 10, 5], [1, 1], "2 efforts were given for 3 catches"),
        ([20, 10, 5], [1, 1, -1], "efforts must be numbers of 0 or more: got -1"),
    ],
)
def test_leslie_refuses(catches, efforts, reason):
    with pytest.raises(DesignError, match=reason):
        leslie(catches, efforts)


def test_leslie_needs_something_removed():
    with pytest.raises(DesignError, match="nothing was depleted"):
        leslie([9, 8, 7], [1, 1, 1], removed=[0, 0, 0])


@pytest.mark.parametrize(
    ("catches", "reason"),
    [
        ([20, 25, 30], "log of catch per effort does not decline"),
        ([20, 0, 10, 0], "2 of 4 points caught nothing"),
        ([20, 10], "2 points of catch per effort"),
    ],
)
def test_delury_refuses(catches, reason):
    with pytest.raises(DesignError, match=reason):
        log_catch_per_effort(catches, [1] * len(catches))
