"""Recaptures given the catch, against SciPy and plain enumeration."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from fishdown.models.parts.catch import beta_shape
from fishdown.models.parts.recaptures.density import recaptures_given_catch

# Catch, marked and unmarked fish: a plain lake, few marks, a nearly empty lake, more fish caught
# than there are unmarked ones, an empty catch, all fish caught.
CATCHES = ((60, 40, 900), (300, 7, 5_000), (20, 12, 15), (30, 40, 12), (0, 50, 300), (17, 5, 12))


def log_density(
    R: float, C: float, M: float, U: float, odds: float = 1.0, clumping: float = 0.0
) -> float:
    return recaptures_given_catch(R, C, M, U, odds, clumping)[0]


def log_densities(C: int, M: float, U: float, **how: float) -> np.ndarray:
    """Log-density of every number of marked fish that could be in the catch."""
    R = range(max(0, int(C - U)), min(C, int(M)) + 1)
    return np.array([log_density(number, C, M, U, **how) for number in R])


def enumerated(C: int, M: int, U: int, clumping: float) -> np.ndarray:
    """Beta-binomial marked fish and binomial others, given how many there are together."""
    R = np.arange(max(0, C - U), min(C, M) + 1)
    p = C / (U + M + 1)
    a, b = beta_shape(-np.log1p(-p), clumping)
    weight = stats.betabinom.pmf(R, M, a, b) * stats.binom.pmf(C - R, U, p)
    return weight / weight.sum()


@pytest.mark.parametrize(("C", "M", "U"), CATCHES)
def test_at_random_it_is_hypergeometric(C: int, M: int, U: int) -> None:
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
        found = [log_density(R, 20, M, 30.3, odds=1.5) for R in range(int(np.ceil(M)) + 1)]
        assert np.exp(found).sum() == pytest.approx(1.0, rel=1e-9)
    below, above = (log_density(3, 20, M, 30.3) for M in (13.0 - 1e-9, 13.0 + 1e-9))
    assert below == pytest.approx(above, rel=1e-7)


def test_what_a_catch_cannot_hold_has_no_chance() -> None:
    # More marked fish than there are or were caught; too few for the others to fill the catch.
    for R, C, M, U in ((13, 20, 12, 30), (21, 20, 40, 30), (3, 20, 12, 15), (6, 20, 8, 10)):
        assert recaptures_given_catch(R, C, M, U, 0.7, 0.3) == (-np.inf, 0.0, 0.0, 0.0, 0.0)


@pytest.mark.parametrize("R", [0, 700, 2_000])
def test_far_from_what_was_to_be_expected(R: int) -> None:
    # The likeliest number is 200; terms outgrow a double on the way there.
    expected = stats.hypergeom.logpmf(R, 50_000, 2_000, 5_000)
    assert expected < -100
    assert log_density(R, 5_000, 2_000, 48_000) == pytest.approx(expected, rel=1e-9)


# Where a whole number of marked fish could all be caught, the slope has a step.
SLOPES = [
    (4, 60, 40, 900.0, 1.3, 0.4),
    (9, 20, 11.7, 15.4, 1.3, 0.4),
    (25, 30, 40.0, 12.7, 0.8, 0.9),
    (25, 30, 39.6, 12.7, 0.4, 0.0),
    (3, 1_000, 150, 9_000.5, 2.0, 0.0),
    (0, 1_000, 700, 9_000.5, 1.0, 0.3),
]


@pytest.mark.parametrize("at", SLOPES)
def test_slopes(at: tuple[float, ...]) -> None:
    _, *slopes = recaptures_given_catch(*at)
    for place, slope in enumerate(slopes, start=2):
        if place == 5 and at[5] == 0.0:
            # The density is even in the clumping.
            assert slope == 0.0
            continue
        step = 1e-6 * max(1.0, at[place])
        to = [[*at[:place], at[place] + move, *at[place + 1 :]] for move in (-step, step)]
        low, high = (recaptures_given_catch(*moved)[0] for moved in to)
        assert slope == pytest.approx((high - low) / (2 * step), rel=2e-5)


@pytest.mark.parametrize("linker", ["py", "numba"])
def test_the_same_in_a_graph(linker: str) -> None:
    import pytensor
    import pytensor.tensor as pt
    from pytensor.compile.mode import Mode

    from fishdown.models.parts.recaptures.node import recaptures_log_density

    every = np.array(SLOPES)
    fish = [pt.vector(name) for name in ("marked", "unmarked")]
    both = [pt.scalar(name) for name in ("odds", "clumping")]
    density = recaptures_log_density(*every.T[:2], *fish, odds=both[0], clumping=both[1])
    asked = [density, *pt.grad((2.0 * density).sum(), [*fish, *both])]
    graph = pytensor.function([*fish, *both], asked, mode=Mode(linker=linker, optimizer="fast_run"))
    found, by_marked, by_unmarked, by_odds, by_clumping = graph(*every.T[2:4], 1.3, 0.4)
    plain = np.array([recaptures_given_catch(*row, 1.3, 0.4) for row in every[:, :4]]).T
    np.testing.assert_allclose(found, plain[0], rtol=1e-12)
    np.testing.assert_allclose(by_marked, 2.0 * plain[1], rtol=1e-10)
    np.testing.assert_allclose(by_unmarked, 2.0 * plain[2], rtol=1e-10)
    assert by_odds == pytest.approx(2.0 * plain[3].sum(), rel=1e-10)
    assert by_clumping == pytest.approx(2.0 * plain[4].sum(), rel=1e-10)


def test_slopes_have_no_slopes_of_their_own() -> None:
    import pytensor.tensor as pt

    from fishdown.models.parts.recaptures.node import recaptures_log_density

    odds = pt.scalar("odds")
    density = recaptures_log_density(3.0, 20.0, 12.0, 90.0, odds=odds)
    with pytest.raises(NotImplementedError):
        pt.grad(pt.grad(density, odds), odds)


def test_the_same_for_many_catches_at_once_in_jax() -> None:
    import jax

    # It is what PyTensor's JAX has double precision from.
    import pytensor.link.jax.dispatch  # noqa: F401

    from fishdown.models.parts.recaptures.in_jax import recaptures_given_catch as in_jax

    rng = np.random.default_rng(8)
    far = [(number, 5_000, 2_000, 48_000, 1.0, 0.0) for number in (0, 700, 2_000)]
    impossible = [(13, 20, 12, 30, 0.7, 0.3), (3, 20, 12, 15, 0.7, 0.3)]
    rows: list[tuple[float, ...]] = [*SLOPES, *far, *impossible, (0, 0, 0, 90.0, 1.0, 0.3)]
    for marked, unmarked in rng.uniform(0.0, (300.0, 2_000.0), (200, 2)):
        caught = rng.integers(0, min(500, marked + unmarked) + 1)
        recaptured = rng.integers(0, min(caught, np.ceil(marked)) + 1)
        rows.append((recaptured, caught, marked, unmarked, *np.exp(rng.normal(-0.5, 0.8, 2))))
    plain = np.array([recaptures_given_catch(*row) for row in rows])
    columns = np.array(rows, dtype=float).T
    np.testing.assert_allclose(np.array(jax.jit(in_jax)(*columns)).T, plain, 1e-11, 1e-12)
    slope = jax.jit(jax.vmap(jax.grad(lambda *row: in_jax(*row)[0], argnums=(2, 3, 4, 5))))
    np.testing.assert_allclose(np.array(slope(*columns)).T, plain[:, 1:], 1e-11, 1e-12)
