"""The number beside the words never lies on the other side of a limit of the scale."""

from __future__ import annotations

import numpy as np
import pytest

from fishdown.words import likelihood_words, percent


@pytest.mark.parametrize(
    ("probability", "shown"),
    [(0.896, "89 %"), (0.328, "33 %"), (0.3301, "34 %"), (0.6599, "65 %"), (0.102, "11 %")],
)
def test_rounding_stops_at_a_limit(probability: float, shown: str) -> None:
    assert percent(probability) == shown


def test_words_of_the_number_are_the_words_of_the_probability() -> None:
    for probability in np.linspace(0.01, 0.99, 1_961):
        whole = int(percent(float(probability)).removesuffix(" %"))
        assert likelihood_words(whole / 100.0) == likelihood_words(float(probability))
