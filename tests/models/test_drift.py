"""Drift within a season: its process against the exact covariance, and where it is left out."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from fishdown.models.array_library import NUMPY
from fishdown.models.parts.drift import DRIFT, WAVES, by_stretch, drift
from fishdown.models.parts.nights import NIGHTS
from fishdown.models.pull_table import PullTable, by_night

SEASONS = (("Alder", "2025"), ("Birch", "2025"))


def table(days: list[int], season: list[int] | None = None) -> PullTable:
    """Make pulls of one net in each of two lakes."""
    which = np.array(season or [0] * len(days))
    return PullTable(
        season=which, lake=which, seasons=SEASONS, net=which, nets=(("Alder", "A"), ("Birch", "A")),
        date=np.datetime64("2025-05-01") + np.array(days).astype("timedelta64[D]"), columns={},
    )  # fmt: skip


def covariance(days: list[int], length: float) -> np.ndarray:
    """Return that of the process at pulls of one season, for a size of 1."""
    inputs = DRIFT.inputs(table(days), table(days))
    stretches = len(by_stretch(table(days))[0])
    count = 2 * WAVES * stretches
    values: dict[str, Any] = {
        "drift_size": np.ones((count, 1)),
        "drift_days": np.full((count, 1), length),
        "drift_step": np.eye(count).reshape(count, stretches, 2 * WAVES),
    }
    weighted = drift(NUMPY, inputs, values)
    return weighted.T @ weighted


@pytest.mark.parametrize(
    ("length", "span", "off"),
    [(8.0, 150, 0.035), (10.0, 150, 0.01), (20.0, 150, 0.001), (45.0, 136, 0.06), (45.0, 60, 1e-3)],
)
def test_it_is_a_gaussian_process(length: float, span: int, off: float) -> None:
    """Less its mean, it has the squared-exponential covariance, within a share of its variance."""
    days = np.linspace(0, span - 1, 20).astype(int)
    exact = np.exp(-0.5 * ((days[:, None] - days) / length) ** 2)
    less_mean = np.eye(20) - 1.0 / 20.0
    found = less_mean @ covariance(days.tolist(), length) @ less_mean
    assert np.abs(found - less_mean @ exact @ less_mean).max() < off


def test_no_day_is_at_a_boundary_and_later_days_revert() -> None:
    # All days have the same variance. The mean over the circle is left out, which is the same for
    # all days; with it the covariance falls to nothing within a few length scales.
    found = covariance([0, 20, 40, 60, 149], 20.0)
    assert np.diag(found) == pytest.approx(found[0, 0])
    of_mean = np.sqrt(2.0 * np.pi) * 20.0 / 240.0
    exact = np.exp(-0.5 * np.array([0.0, 1.0, 2.0, 3.0]) ** 2)
    assert found[0, :4] + of_mean == pytest.approx(exact, abs=2e-3)


def test_after_150_days_it_begins_anew() -> None:
    found = covariance([0, 149, 150, 160], 20.0)
    assert by_stretch(table([0, 149, 150, 310]))[0] == (
        ("Alder", "2025", "0"), ("Alder", "2025", "1"), ("Alder", "2025", "2"),
    )  # fmt: skip
    assert found[1, 2:] == pytest.approx([0.0, 0.0])
    assert found[2, 3] == pytest.approx(covariance([0, 10], 20.0)[0, 1])


def test_more_pulls_leave_those_before_as_they_are() -> None:
    few, more = table([3, 10, 40]), table([3, 10, 40, 90])
    before, now = DRIFT.inputs(few, few), DRIFT.inputs(more, more)
    np.testing.assert_array_equal(now.waves[:, :3], before.waves)
    assert now.pulls.tolist() == [4.0, 1.0]


@pytest.mark.parametrize(
    ("days", "season", "fed"),
    [
        ([0, 5, 10], None, True),
        ([0, 5, 9], None, False),
        ([0, 0, 30], None, False),
        ([0, 20, 0, 10], [0, 0, 1, 1], False),
        ([0, 20, 0, 10, 30], [0, 0, 1, 1, 1], True),
    ],
)
def test_three_dates_over_ten_days_feed_it(
    days: list[int], season: list[int] | None, fed: bool
) -> None:
    assert (DRIFT.unfed(table(days, season)) == "") == fed


def test_nights_are_dates_of_a_lake() -> None:
    pulls = table([0, 0, 7, 0, 7, 7], [0, 0, 0, 1, 1, 1])
    nights, night = by_night(pulls)
    assert nights == (
        ("Alder", "2025-05-01"), ("Alder", "2025-05-08"),
        ("Birch", "2025-05-01"), ("Birch", "2025-05-08"),
    )  # fmt: skip
    assert night.tolist() == [0, 0, 1, 2, 3, 3]
    assert NIGHTS.unfed(pulls) == ""


@pytest.mark.parametrize(
    ("days", "season", "why"),
    [
        ([0, 1, 2], None, "one pull a night"),
        ([4, 4, 4], None, "one night in each season"),
        ([4, 4, 9, 9, 9], [0, 0, 1, 1, 1], "one night in each season"),
    ],
)
def test_nights_that_cannot_be_told_are_left_out(
    days: list[int], season: list[int] | None, why: str
) -> None:
    assert NIGHTS.unfed(table(days, season)).startswith(why)
