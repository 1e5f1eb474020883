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
from fishdown.checks.tails import ALL, Statistic, judged, over_seasons, tail_words
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


def several(shift: float, seasons: int = 6) -> list[Statistic]:
    """Make independent standard normal draws of every season, all observed as far off."""
    rng = np.random.default_rng(1)
    return [Statistic(one, shift, rng.normal(size=DRAWS)) for one in range(seasons)]


def test_seasons_together_see_what_none_sees_alone() -> None:
    campaign = fake_campaign(lakes(6))
    alone = judged("a check", "days", campaign, several(1.5), "a time")
    assert alone is not None
    assert alone.outcome == "passed"
    sides = (Found.MARKED_SHARE_FALLS, Found.MARKED_SHARE_RISES)
    result = judged(
        "a check", "days", campaign, several(1.5), "a time", departures=sides, together=True
    )
    assert result is not None
    assert result.outcome == "not passed"
    assert result.said.code is Found.MARKED_SHARE_RISES
    start = "a time, mean difference from the prediction over all 6 seasons: 1.5"
    assert result.sentence.startswith(start)
    assert ", not passed below 0.5 %)" in result.sentence
    last = result.table.iloc[-1]
    assert (last["lake"], last["season"]) == ("all", "all")
    # Of six independent standard normal numbers.
    assert last["high"] - last["low"] == pytest.approx(2 * 1.645 / np.sqrt(6.0), rel=0.1)
    # One season that is far off by itself is named.
    far = [*several(0.0)[:5], normal(5, 6.0)]
    named = judged(
        "a check", "days", campaign, far, "a time", departures=sides, together=True,
        again=lambda season: normal(season, 6.0, 4_000),
    )  # fmt: skip
    assert named is not None
    assert named.said.values["season"] == "Lake 5 2024"
    assert "0.0833 %)" in named.sentence or "0.083 %)" in named.sentence


def test_seasons_count_by_their_precision() -> None:
    draws = np.random.default_rng(2).normal(size=(2, 4_000))
    found = over_seasons([Statistic(0, 1.0, draws[0]), Statistic(1, 30.0, 10.0 * draws[1])])
    assert found is not None
    assert found.season == ALL
    # Weights 1 and 1/100.
    assert found.observed == pytest.approx((1.0 + 0.3) / 1.01, abs=0.05)
    assert found.drawn.std() == pytest.approx(1.0 / np.sqrt(1.01), rel=0.03)
    still = Statistic(1, 3.0, np.ones(4_000))
    assert over_seasons([Statistic(0, 1.0, draws[0]), still]) is None


def test_false_alarms_with_seasons_together() -> None:
    rng = np.random.default_rng(3)
    campaign = fake_campaign(lakes(4))
    failed = 0
    for _ in range(400):
        observed = rng.normal(size=4)
        found = [normal(one, number, 2_000) for one, number in enumerate(observed)]
        found = [Statistic(one.season, one.observed, rng.permutation(one.drawn)) for one in found]
        result = judged("a check", "", campaign, found, "a number", together=True)
        assert result is not None
        failed += result.outcome == "not passed"
    # Four standard errors of 1 % of four hundred.
    assert failed <= 4 + 4 * np.sqrt(4)


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
