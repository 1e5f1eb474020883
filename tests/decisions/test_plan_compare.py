"""Designs of a plan beside each other: what their campaigns part, and what they do not."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

import fishdown
from fishdown.decisions import plan as planning
from fishdown.decisions.plan_campaign import Run
from fishdown.decisions.plan_compare import ALIKE, Tried, campaigns_to_tell, median_range
from fishdown.decisions.plan_file import Plan, parse_plan


def run(candidate: int, simulation: int, probability_below: float) -> Run:
    return Run(
        candidate, simulation, fish=1000.0, median=1000.0, low=800.0, high=1300.0,
        biomass_after=50.0, probability_below=probability_below, settled=1,
    )  # fmt: skip


def share_right(plan: Plan, *rights: int, campaigns: int = 40) -> fishdown.Planned:
    """Let so many campaigns of each design end with a firm verdict, always the first ones."""
    runs = [
        run(place, n, 0.95 if n < right else 0.7)
        for n in range(campaigns)
        for place, right in enumerate(rights)
    ]
    return fishdown.Planned(plan, planning.summary(plan, runs), tuple(runs))


@pytest.fixture
def firm() -> Plan:
    """Four designs by cost: 50 fish on 4 and 6 days, 200 fish on 4 and 6 days."""
    return parse_plan(
        {
            "lake": {"area_ha": 25, "threshold_kg_per_ha": 100},
            "guess": {"fish_per_ha": 80, "mean_weight_kg": 2.0, "share_a_pull": 0.02},
            "temperatures_c": {"june": 20.0},
            "season": {"first_day": dt.date(2027, 6, 15)},
            "costs": {"per_marked_fish": 15, "per_pull": 20},
            "candidates": {"marked": [50, 200], "nets": 4, "rounds": [4, 6]},
            "target": {"right_and_firm": 0.8},
            "simulation": {"simulations": 40},
        }
    )


def test_what_the_campaigns_do_not_part_is_not_ranked(firm: Plan) -> None:
    # Of 40 campaigns 32 are 80 %, with a standard error of 6 %; 38 and 37 surely meet the target.
    done = share_right(firm, 10, 33, 38, 37)
    frame = done.frame
    assert frame["cost"].is_monotonic_increasing
    assert frame["target"].tolist() == ["missed", "open", "met", "met"]
    assert frame["cheapest"].tolist() == [False, False, True, False]
    # One lake of difference has an error of one lake; 5 have one of 2.1.
    assert frame["like_cheapest"].tolist() == [False, False, False, True]
    said = done.sentence()
    assert "meets the target" in said
    assert "mark 200 fish and pull 4 nets on 4 days" in said.partition(". ")[0]
    assert (
        "With 40 campaigns for each design it is undecided whether these, which cost no more, also "
        "meet it: mark 50 fish and pull 4 nets on 6 days" in said
    )
    assert "campaigns would decide it (simulations in the plan file)" in said
    assert (
        "Compared lake by lake, 40 campaigns do not distinguish it from: mark 200 fish and" in said
    )


def test_where_every_design_is_open_none_is_called_the_cheapest(firm: Plan) -> None:
    done = share_right(firm, 31, 33, 33, 34)
    assert done.frame["target"].tolist() == ["open"] * 4
    assert not done.frame["cheapest"].any()
    assert done.sentence().startswith(
        "With 40 campaigns for each design it is undecided whether any meets"
    )
    done.figure()


def test_the_same_lakes_part_what_single_errors_would_not(firm: Plan) -> None:
    """Where one design is right in every lake in which the other is, and in 7 more of 40."""
    best, worse = (
        Tried(np.full(40, 0.2), np.arange(40) < count) for count in (36, 29)
    )  # fmt: skip
    (high, high_error), (low, low_error) = best.chance, worse.chance
    assert high - low < ALIKE * np.hypot(high_error, low_error)
    assert not worse.like(best, firm)
    assert best.like(best, firm)


@pytest.mark.parametrize("count", [5, 12, 40])
def test_the_range_of_a_median_holds_it(count: int) -> None:
    rng = np.random.default_rng(4)
    ranges = [median_range(rng.uniform(size=count)) for _ in range(4_000)]
    held = np.mean([low <= 0.5 <= high for low, high in ranges])
    assert held >= 0.9 - 4.0 * np.sqrt(0.09 / 4_000)
    # No wider than whole numbers force it to be: 94, 96 and 92 % by the binomial distribution.
    assert held < 0.975


def test_four_campaigns_tell_nothing_of_a_median() -> None:
    assert median_range(np.arange(4.0)) == (-np.inf, np.inf)


def test_how_many_campaigns_would_tell(firm: Plan) -> None:
    """Of 40 campaigns 34 are right; with that share in so many more the target would be met."""
    tried = Tried(np.full(40, 0.2), np.arange(40) < 34)
    assert tried.target(firm) == "open"
    needed = campaigns_to_tell(tried, firm)
    assert needed is not None
    share, error = tried.chance
    assert share - 1.645 * error * np.sqrt(40 / needed) >= 0.8
    assert share - 1.645 * error * np.sqrt(40 / (0.85 * needed)) < 0.8
    assert campaigns_to_tell(Tried(np.full(40, 0.2), np.arange(40) < 40), firm) is None
