"""One number a season against draws: the outcome and the numbers beside it agree."""

from __future__ import annotations

import re

import numpy as np
import pytest
from fake_fits import fake_campaign
from scipy import stats

from fishdown.checks.catches import allowed_outside
from fishdown.checks.codes import Found
from fishdown.checks.result import FALSE_ALARM
from fishdown.checks.tails import Statistic, judged, tail_words
from fishdown.checks.uniform import evenness

DRAWS = 400


def normal(season: int, observed: float, draws: int = DRAWS) -> Statistic:
    """Hold a number against even quantiles of a standard normal distribution."""
    return Statistic(season, observed, stats.norm.ppf((np.arange(draws) + 0.5) / draws))


def lakes(count: int) -> list[tuple[str, float, float]]:
    return [(f"Lake {number}", 10.0, 100.0) for number in range(count)]


@pytest.mark.parametrize("seasons", [1, 3, 12, 30])
@pytest.mark.parametrize("observed", [0.5, 2.2, 2.7, 6.0])
def test_outcome_and_numbers_agree(seasons: int, observed: float) -> None:
    found = [normal(season, 0.0) for season in range(seasons - 1)]
    found.append(normal(seasons - 1, observed))
    result = judged(
        "a check", "fish", fake_campaign(lakes(seasons)), found, "recaptures",
        again=lambda season: normal(season, observed, 10 * DRAWS),
    )  # fmt: skip
    assert result is not None
    tail = 2.0 * stats.norm.sf(observed)
    assert result.outcome == ("passed" if tail >= FALSE_ALARM / seasons else "not passed")
    shown, limit = re.findall(r"([\d.]+) %", result.sentence)[-2:]
    assert (float(shown) < float(limit)) == (result.outcome == "not passed")
    assert "less than" not in result.sentence


@pytest.mark.parametrize("observed", [-6.0, 2.0, 2.4, 6.0])
def test_one_side_alone(observed: float) -> None:
    result = judged(
        "a check", "", fake_campaign(lakes(1)), [normal(0, observed)], "a correlation",
        departures=(None, Found.CATCHES_IN_RUNS),
    )  # fmt: skip
    assert result is not None
    tail = stats.norm.sf(observed)
    assert result.outcome == ("passed" if tail >= FALSE_ALARM else "not passed")
    assert (result.said.code is Found.CATCHES_IN_RUNS) == (tail < FALSE_ALARM)
    assert "(upper tail " in result.sentence
    # Without a unit nothing stands for it.
    shown = f"{observed:.2f}".replace("-", "−")
    assert f": {shown}, predicted −1.63 to 1.63 (" in result.sentence


def test_what_departs_is_said_by_its_side() -> None:
    sides = (Found.FISH_LIGHTER_LATER, Found.FISH_HEAVIER_LATER)
    for observed, code in ((-4.0, sides[0]), (0.3, Found.MOST_EXTREME_SEASON), (4.0, sides[1])):
        result = judged(
            "a check", "%", fake_campaign(lakes(1)), [normal(0, observed)], "a change",
            departures=sides,
        )  # fmt: skip
        assert result is not None
        assert result.said.code is code


def test_many_seasons_can_fail_at_all() -> None:
    """Of 400 draws the smallest tail is 0.25 %; for 12 seasons 0.083 % is asked."""
    found = [normal(season, 9.0 * (season == 3)) for season in range(12)]
    campaign = fake_campaign(lakes(12))
    few = judged("a check", "fish", campaign, found, "recaptures")
    assert few is not None
    assert few.outcome == "for information"
    assert few.said.values["few"]
    assert few.sentence.endswith("; too few draws for a judgement")
    asked: list[int] = []

    def again(season: int) -> Statistic:
        asked.append(season)
        return normal(season, 9.0, 4_000)

    many = judged("a check", "fish", campaign, found, "recaptures", again=again)
    assert many is not None
    assert many.outcome == "not passed"
    assert asked == [3]


def test_no_more_than_a_few_seasons_are_looked_at_again() -> None:
    found = [normal(season, 3.0 + season) for season in range(30)]
    asked: list[int] = []

    def again(season: int) -> Statistic:
        asked.append(season)
        return normal(season, 3.0 + season, 4_000)

    assert judged("a check", "fish", fake_campaign(lakes(30)), found, "recaptures", again=again)
    assert asked == [29, 28, 27]


@pytest.mark.parametrize(
    ("tail", "limit", "said"),
    [
        (0.005, 0.01 / 3, "two-sided tail 0.5 %, not passed below 0.33 %"),
        (0.00332, 0.01 / 3, "two-sided tail 0.332 %, not passed below 0.333 %"),
        (0.009999, 0.01, "two-sided tail 0.9999 %, not passed below 1 %"),
        (0.01, 0.01, "two-sided tail 1 %, not passed below 1 %"),
        (0.04, 0.01, "two-sided tail 4 %, not passed below 1 %"),
        (1.0, 0.01, "two-sided tail more than 99 %, not passed below 1 %"),
    ],
)
def test_a_tail_and_its_limit_in_words(tail: float, limit: float, said: str) -> None:
    assert tail_words(tail, limit) == said


@pytest.mark.parametrize(("catches", "allowed"), [(1, 1), (3, 2), (40, 9), (200, 30)])
def test_catches_that_may_lie_outside(catches: int, allowed: int) -> None:
    """SciPy's exact binomial test, one-sided, draws the same line."""
    assert allowed_outside(catches) == allowed
    for count in (allowed, allowed + 1):
        if count <= catches:
            pvalue = stats.binomtest(count, catches, 0.1, alternative="greater").pvalue
            assert (pvalue >= FALSE_ALARM) == (count <= allowed)


def test_a_few_numbers_never_leave_their_band() -> None:
    assert not evenness(np.array([0.01, 0.02]), 0.99).tells
    assert evenness(np.full(20, 0.01), 0.99).tells
