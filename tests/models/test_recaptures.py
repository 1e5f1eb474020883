"""Recaptures given the catch, against SciPy and plain enumeration."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from scipy import stats

from fishdown.models.catch import beta_shape
from fishdown.models.recaptures import (
    blocks_by_size,
    numbers_tried,
    recaptures_log_density,
)

# Catch, marked and unmarked fish: a plain lake, few marks, a nearly empty lake, more fish caught
# than there are unmarked ones, an empty catch, all fish caught.
CATCHES = ((60, 40, 900), (300, 7, 5_000), (20, 12, 15), (30, 40, 12), (0, 50, 300), (17, 5, 12))


def log_densities(C: int, M: float, U: float, **how: float) -> np.ndarray:
    """Log-density of every number of marked fish that could be in the catch."""
    R = np.arange(max(0, int(C - U)), min(C, int(M)) + 1.0)
    every = np.ones_like(R)
    tried = numbers_tried(np.array([C]), np.array([M]))
    return recaptures_log_density(R, C * every, M * every, U * every, tried, **how)


def enumerated(C: int, M: int, U: int, clumping: float) -> np.ndarray:
    """Beta-binomial marked fish and binomial others, given how many there are together."""
    R = np.arange(max(0, C - U), min(C, M) + 1)
    p = C / (U + M + 1)
    a, b = beta_shape(-np.log1p(-p), clumping)
    weight = stats.betabinom.pmf(R, M, a, b) * stats.binom.pmf(C - R, U, p)
    return weight / weight.sum()


@pytest.mark.parametrize(("C", "M", "U"), CATCHES)
def test_by_lot_it_is_hypergeometric(C: int, M: int, U: int) -> None:
    R = np.arange(max(0, C - U), min(C, M) + 1)
    expected = stats.hypergeom.logpmf(R, M + U, M, C)
    np.testing.assert_allclose(log_densities(C, M, U), expected, rtol=1e-9, atol=1e-10)


@pytest.mark.parametrize(("C", "M", "U"), CATCHES)
@pytest.mark.parametrize("odds", [0.2, 0.8, 3.0])
def test_marked_fish_more_or_less_catchable(C: int, M: int, U: int, odds: float) -> None:
    R = np.arange(max(0, C - U), min(C, M) + 1)
    expected = stats.nchypergeom_fisher.pmf(R, M + U, M, C, odds)
    found = np.exp(log_densities(C, M, U, odds=odds))
    np.testing.assert_allclose(found, expected, rtol=1e-8, atol=1e-12)


@pytest.mark.parametrize(("C", "M", "U"), [fish for fish in CATCHES if fish[0]])
@pytest.mark.parametrize("clumping", [0.1, 0.7, 2.0])
def test_clumped_marks_by_enumeration(C: int, M: int, U: int, clumping: float) -> None:
    found = np.exp(log_densities(C, M, U, clumping=clumping))
    assert found.sum() == pytest.approx(1.0, rel=1e-12)
    np.testing.assert_allclose(found, enumerated(C, M, U, clumping), rtol=1e-8, atol=1e-12)


def test_without_clumping_it_comes_back_to_the_lot() -> None:
    lot = log_densities(60, 40, 900)
    apart = [np.abs(log_densities(60, 40, 900, clumping=s) - lot).max() for s in (1e-2, 1e-3, 1e-4)]
    # The distance falls as the square of the clumping.
    assert apart[0] / apart[1] == pytest.approx(100, rel=0.01)
    assert apart[1] / apart[2] == pytest.approx(100, rel=0.01)


def test_clumped_marks_among_countless_others_are_beta_binomial() -> None:
    # Fixing C still moves the far tail by M²/(2C), 0.13 %.
    C, M, U = 600_000, 40, 30_000_000
    p = C / (U + M + 1)
    expected = stats.betabinom.pmf(np.arange(M + 1), M, *beta_shape(-np.log1p(-p), 1.0))
    np.testing.assert_allclose(np.exp(log_densities(C, M, U, clumping=1.0)), expected, rtol=3e-3)


def test_an_empty_catch_says_nothing() -> None:
    assert log_densities(0, 50, 300, odds=0.5, clumping=0.7) == pytest.approx([0.0], abs=1e-12)


def test_numbers_of_fish_that_are_not_whole() -> None:
    """Sums to one between whole numbers, and joins them without a step."""
    for M in (12.0, 12.4, 13.0 - 1e-9, 13.0):
        R = np.arange(np.ceil(M) + 1.0)
        tried = np.arange(14.0)
        every = np.ones_like(R)
        found = recaptures_log_density(R, 20 * every, M * every, 30.3 * every, tried, odds=1.5)
        assert np.exp(found).sum() == pytest.approx(1.0, rel=1e-9)
    below, above = (
        recaptures_log_density(
            np.array([3.0]), np.array([20.0]), np.array([M]), np.array([30.3]), np.arange(15.0)
        )
        for M in (13.0 - 1e-9, 13.0 + 1e-9)
    )
    assert below == pytest.approx(above, rel=1e-7)


def test_the_same_in_a_graph_with_its_slope() -> None:
    import pytensor
    import pytensor.tensor as pt
    from pytensor.compile.mode import Mode

    C, M, U, R = np.array([(60, 40, 900.0, 4), (20, 12, 15.4, 9), (30, 40, 12.7, 25)], float).T
    tried = numbers_tried(C, M)
    fish, odds, clumping = pt.vector("fish"), pt.scalar("odds"), pt.scalar("clumping")
    density = recaptures_log_density(
        R, C, M, fish, tried, odds=odds, clumping=clumping, arrays=pt
    ).sum()
    slopes = pt.grad(density, [fish, odds, clumping])
    graph = pytensor.function(
        [fish, odds, clumping], [density, *slopes], mode=Mode(linker="py").excluding("fusion")
    )

    def plain(U: Any, odds: float, clumping: float) -> float:
        return recaptures_log_density(R, C, M, U, tried, odds=odds, clumping=clumping).sum()

    value, by_fish, by_odds, by_clumping = graph(U, 1.3, 0.4)
    assert value == pytest.approx(plain(U, 1.3, 0.4), rel=1e-12)
    step = 1e-5
    assert by_odds == pytest.approx(
        (plain(U, 1.3 + step, 0.4) - plain(U, 1.3 - step, 0.4)) / (2 * step), rel=1e-5
    )
    assert by_clumping == pytest.approx(
        (plain(U, 1.3, 0.4 + step) - plain(U, 1.3, 0.4 - step)) / (2 * step), rel=1e-5
    )
    for place in range(3):
        move = np.eye(3)[place] * step
        slope = (plain(U + move, 1.3, 0.4) - plain(U - move, 1.3, 0.4)) / (2 * step)
        assert by_fish[place] == pytest.approx(slope, rel=1e-5)


def test_blocks_hold_every_catch_once_and_are_wide_enough() -> None:
    rng = np.random.default_rng(6)
    for catches in (rng.integers(0, 300, 50), np.zeros(3), np.array([7]), np.zeros(0)):
        C, M = catches.astype(float), rng.integers(1, 120, len(catches)).astype(float)
        order, blocks = blocks_by_size(C, M)
        assert sorted(order) == list(range(len(C)))
        covered = [place for first, last, _ in blocks for place in range(first, last)]
        assert covered == list(range(len(C)))
        every = numbers_tried(C, M)
        for first, last, width in blocks:
            mine = order[first:last]
            R, U = np.zeros(len(mine)), C[mine] + 40.0
            wide, narrow = (
                recaptures_log_density(R, C[mine], M[mine], U, tried, odds=0.6, clumping=0.3)
                for tried in (every, every[:width])
            )
            np.testing.assert_allclose(narrow, wide, rtol=1e-12)
