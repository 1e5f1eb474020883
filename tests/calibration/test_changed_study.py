"""Lines of a study that somebody changed."""

from __future__ import annotations

from typing import Any

import pytest

from fishdown.calibration.study import _wrong

ROW: dict[str, Any] = {"places": {"density": 0.5}, "divergences": 0, "ess": 300.0, "tries": 1}


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({}, ""),
        ({"places": {"density": 1.5}}, "the place of density is 1.5, not between 0 and 1"),
        ({"places": {"density": -0.1}}, "the place of density is -0.1, not between 0 and 1"),
        ({"places": {"density": "0.5"}}, "places are missing, or are no numbers"),
        ({"places": {"density": float("nan")}}, "places are missing, or are no numbers"),
        ({"ess": float("inf")}, "ess = inf"),
        ({"places": None}, "places are missing, or are no numbers"),
        ({"ess": -1.0}, "ess = -1.0"),
        ({"ess": None}, "ess = None"),
        ({"divergences": "0"}, "divergences = '0'"),
    ],
)
def test_what_cannot_be_a_simulation(change: dict[str, Any], said: str) -> None:
    assert _wrong({**ROW, **change}) == said


def test_a_simulation_that_failed() -> None:
    assert _wrong({"failed": "the sampler broke down", "tries": 1}) == ""
