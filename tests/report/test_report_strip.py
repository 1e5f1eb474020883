"""The words on a card's strip: never across the line of the threshold."""

from __future__ import annotations

import itertools

import pytest

from fishdown.report.strip import MARGIN, WIDTH, place_of_word

# Of 11 px letters in the widest of the page's fonts, with the white edge around them.
WIDE = {"before": 37.0, "after": 28.0}


@pytest.mark.parametrize("when", WIDE)
def test_words_stand_clear_of_the_threshold_and_of_the_bar(when: str) -> None:
    places = range(int(MARGIN), int(WIDTH - MARGIN) + 1, 5)
    for low, high, threshold in itertools.product(places, places, places):
        if low > high:
            continue
        x, anchor, rise = place_of_word(when, low, high, threshold)
        left = x if anchor == "start" else x - WIDE[when]
        right = left + WIDE[when]
        assert left >= 0.0
        assert right <= WIDTH
        assert not left - 1.0 < threshold < right + 1.0, (low, high, threshold)
        # Beside the bar, or above it.
        assert rise > 0.0 or right < low or left > high


def test_a_word_stands_beside_its_bar_where_nothing_is_in_the_way() -> None:
    assert place_of_word("after", 40.0, 80.0, 200.0) == (86.0, "start", -4.0)
    assert place_of_word("after", 240.0, 300.0, 100.0) == (234.0, "end", -4.0)


def test_a_word_goes_beyond_a_threshold_in_its_way() -> None:
    x, anchor, _ = place_of_word("before", 10.0, 30.0, 50.0)
    assert (x, anchor) == (56.0, "start")


def test_a_word_goes_above_a_bar_that_fills_the_strip() -> None:
    assert place_of_word("before", 10.0, 310.0, 20.0)[2] > 0.0
