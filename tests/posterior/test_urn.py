"""Marked fish in a catch, against SciPy and against the models' own densities."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from fishdown.models.parts.recaptures.density import recaptures_given_catch
from fishdown.posterior.urn import URN, marked_in_catch

DRAWS = 40_000
M, U, C = 30, 170, 60


def drawn(**departure: float) -> np.ndarray:
    fish = (np.full((DRAWS, 1), number) for number in (M, U, C))
    shapes = {"odds": (DRAWS, 1), "clumping": DRAWS}
    by_draw = {name: np.full(shapes[name], value) for name, value in departure.items()}
    return marked_in_catch(*fish, np.random.default_rng(1), **by_draw)[:, 0]


def assert_drawn_from(found: np.ndarray, chances: np.ndarray) -> None:
    counts = np.bincount(found, minlength=len(chances))
    common = DRAWS * chances > 5.0
    expected = np.append(DRAWS * chances[common], DRAWS * chances[~common].sum())
    observed = np.append(counts[common], counts[~common].sum())
    expected *= observed.sum() / expected.sum()
    assert stats.chisquare(observed, expected).pvalue > 0.001


def test_at_random_and_by_odds_are_scipys() -> None:
    numbers = np.arange(M + 1)
    assert_drawn_from(drawn(), stats.hypergeom(M + U, M, C).pmf(numbers))
    # SciPy's noncentral hypergeometric is Fisher's.
    law = stats.nchypergeom_fisher(M + U, M, C, 0.6)
    assert_drawn_from(drawn(odds=0.6), law.pmf(numbers))


def test_clumped_is_the_models_density() -> None:
    log_chance = [recaptures_given_catch(R, C, M, U, 1.0, 0.5)[0] for R in range(M + 1)]
    assert_drawn_from(drawn(clumping=0.5), np.exp(log_chance))


def test_a_catch_holds_no_more_than_there_is() -> None:
    marked, unmarked, taken = (np.array([numbers]) for numbers in ([3, 0, 5], [2, 4, 0], [5, 4, 5]))
    for departure in ({}, {"odds": np.array([[0.4]])}, {"clumping": np.array([0.8])}):
        found = marked_in_catch(marked, unmarked, taken, np.random.default_rng(2), **departure)
        assert found.tolist() == [[3, 0, 5]]


def test_more_fish_than_an_urn_can_hold() -> None:
    many = np.full((2_000, 1), 10 * URN)
    found = marked_in_catch(many, many, np.full((2_000, 1), 40), np.random.default_rng(3))
    assert found.mean() == pytest.approx(20.0, abs=5.0 * np.sqrt(10.0 / 2_000))
    found = marked_in_catch(many, many, 5 * many // 4, np.random.default_rng(3))
    assert found.mean() == pytest.approx(5.0 / 8.0 * 10 * URN, rel=1e-4)


def test_few_marks_among_more_fish_than_an_urn_can_hold() -> None:
    # Four fifths of all fish are caught at once: drawn fish by fish of the catch, more marked ones
    # came up than there are.
    marked, taken = np.full((DRAWS, 1), 7), np.full((DRAWS, 1), 16 * URN // 10)
    found = marked_in_catch(marked, 2 * URN - marked, taken, np.random.default_rng(4))
    law = stats.hypergeom(2 * URN, 7, 16 * URN // 10)
    assert_drawn_from(found[:, 0], law.pmf(np.arange(8)))


def test_all_but_a_few_of_more_fish_than_an_urn_can_hold() -> None:
    many = np.full((2_000, 1), URN)
    left = many - marked_in_catch(many, many, 2 * many - 2, np.random.default_rng(5))
    assert left.max() <= 2
