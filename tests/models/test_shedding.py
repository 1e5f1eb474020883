"""What is left of two kinds of mark, against SciPy and plain enumeration."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest
from scipy import optimize, stats

from fishdown.models.parts.marks.shedding import double_mark_log_density, still_marked


def test_a_fish_counts_as_marked_while_any_of_its_marks_is_seen() -> None:
    shares = np.array([[1, 0, 0], [0, 1, 0], [0, 0, 1], [0.5, 0.3, 0.2]])
    clip, tag = 0.9, 0.7
    either = sum(
        (clip if has_clip else 1 - clip) * (tag if has_tag else 1 - tag)
        for has_clip, has_tag in product((True, False), repeat=2)
        if has_clip or has_tag
    )
    mixed = 0.5 * clip + 0.3 * tag + 0.2 * either
    np.testing.assert_allclose(still_marked(shares, clip, tag), [clip, tag, either, mixed])


@pytest.mark.parametrize(("clip", "tag"), [(0.9, 0.7), (0.2, 0.99), (0.5, 0.5)])
def test_double_marks_are_multinomial_given_that_one_is_seen(clip: float, tag: float) -> None:
    chances = np.array([clip * tag, clip * (1 - tag), (1 - clip) * tag])
    chances /= chances.sum()
    total = 0.0
    for both, clip_only in product(range(8), repeat=2):
        tag_only = 7 - both - clip_only
        if tag_only < 0:
            continue
        found = double_mark_log_density(both, clip_only, tag_only, clip, tag)
        expected = stats.multinomial.logpmf([both, clip_only, tag_only], 7, chances)
        assert found == pytest.approx(expected, rel=1e-9, abs=1e-12)
        total += np.exp(found)
    assert total == pytest.approx(1.0)


def test_the_most_probable_shares_are_those_of_the_other_mark() -> None:
    """Of the fish known by their clip, the share with a tag tells the tag, and the reverse."""
    both, clip_only, tag_only = 40, 9, 3

    def negative(at: np.ndarray) -> float:
        return -float(double_mark_log_density(both, clip_only, tag_only, *at))

    best = optimize.minimize(negative, [0.8, 0.8], bounds=[(0.01, 0.99)] * 2, tol=1e-12)
    assert best.x == pytest.approx([40 / 43, 40 / 49], rel=1e-4)
