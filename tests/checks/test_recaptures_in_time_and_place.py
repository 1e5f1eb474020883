"""When, in which net and of which batch marked fish are recaptured, in lakes known for certain."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from known_lakes import assert_calibrated, lakes_of, with_recaptures
from scipy import stats

import fishdown
from fishdown.checks.codes import Found
from fishdown.checks.recapture_dates import mean_day, recaptures_by_date
from fishdown.checks.recapture_mixing import (
    batches_given_recaptures,
    recaptures_by_batch,
    recaptures_by_net,
    unevenness,
)
from fishdown.checks.result import CheckResult
from fishdown.models.parts.marks.release_groups import groups_of_season
from fishdown.posterior.at_draws import DrawnLakes
from fishdown.posterior.replicates import recaptures_given_catches, replicated_recaptures
from fishdown.worlds import LakeTruth, World, simulate

FISH, HAZARD = 5_000.0, 0.02
PONDS = (
    LakeTruth("Alder", 20.0, 5_000, area_fished_ha=20.0 * HAZARD),
    LakeTruth("Birch", 60.0, 5_000, area_fished_ha=60.0 * HAZARD),
)


@pytest.fixture(scope="module")
def campaign() -> fishdown.Campaign:
    return simulate(World(PONDS, rounds=8, marked=600), np.random.default_rng(1))[0]


@pytest.fixture(scope="module")
def lakes(campaign: fishdown.Campaign) -> DrawnLakes:
    return lakes_of(campaign, FISH, HAZARD)


def drawn_again(lakes: DrawnLakes, rng: np.random.Generator) -> DrawnLakes:
    """Draw the recaptures of both seasons from the lakes themselves."""
    one = replace(lakes, vulnerable_fish=lakes.vulnerable_fish[:1], share=lakes.share[:1],
                  carried=lakes.carried[:1])  # fmt: skip
    seasons = [recaptures_given_catches(season, one, rng)[0] for season in (0, 1)]
    return with_recaptures(lakes, np.concatenate(seasons))


def judged(
    check: Any, campaign: fishdown.Campaign, lakes: DrawnLakes, rng: np.random.Generator
) -> CheckResult | None:
    """Return the result of a check of these lakes against replicates of their own."""
    found: CheckResult | None = check(campaign, lakes, replicated_recaptures(lakes, rng))
    return found


@pytest.mark.parametrize("check", [recaptures_by_date, recaptures_by_net])
def test_false_alarms_are_as_rare_as_stated(
    check: object, campaign: fishdown.Campaign, lakes: DrawnLakes
) -> None:
    rng = np.random.default_rng(3)
    assert_calibrated(lambda: judged(check, campaign, drawn_again(lakes, rng), rng))


def test_mean_day_is_that_of_the_hypergeometric_law(
    campaign: fishdown.Campaign, lakes: DrawnLakes
) -> None:
    pulls = campaign.season_pulls(0)
    C, M, gone, recaptured = (
        pulls[name].values for name in ("caught", "marks_at_large", "gone_before", "recaptured")
    )
    law = stats.hypergeom((FISH - gone).astype(int), M.astype(int), C.astype(int))
    date = pulls["date"].values.astype("datetime64[D]")
    day = (date - date[0]).astype(float)
    many = lakes_of(campaign, FISH, HAZARD, 20_000)
    anew = recaptures_given_catches(0, many, np.random.default_rng(2))
    observed, drawn = mean_day(recaptured, anew, day)
    assert observed == pytest.approx((recaptured * day).sum() / recaptured.sum())
    expected = (law.mean() * day).sum() / law.mean().sum()
    # To first order in 1 / recaptures, by the delta method.
    sd = np.sqrt((law.var() * (day - expected) ** 2).sum()) / law.mean().sum()
    assert drawn.mean() == pytest.approx(expected, abs=0.1 * sd)
    assert drawn.std() == pytest.approx(sd, rel=0.05)


@pytest.mark.parametrize(
    ("slope", "code"), [(-1.5, Found.MARKED_SHARE_FALLS), (1.5, Found.MARKED_SHARE_RISES)]
)
def test_a_share_that_changes_in_time_is_noticed(
    slope: float, code: Found, campaign: fishdown.Campaign, lakes: DrawnLakes
) -> None:
    looks = lakes.data.counts.examined
    rng = np.random.default_rng(4)
    usual = np.concatenate(
        [recaptures_given_catches(season, lakes, rng).mean(axis=0) for season in (0, 1)]
    )
    part = np.concatenate(
        [np.linspace(0.0, 1.0, int((looks.season == one).sum())) for one in (0, 1)]
    )
    change = np.where(looks.season == 1, np.exp(slope * (part - 0.5)), 1.0)
    result = judged(
        recaptures_by_date, campaign, with_recaptures(lakes, (usual * change).round()), rng
    )
    assert result is not None
    assert result.outcome == "not passed"
    assert result.said.code is code
    assert result.said.values["season"] == "Birch 2025"
    assert "of Birch 2025, the most extreme season: " in result.sentence


def test_nets_that_differ_or_are_too_alike_are_noticed(
    campaign: fishdown.Campaign, lakes: DrawnLakes
) -> None:
    rng = np.random.default_rng(5)
    usual = np.concatenate(
        [recaptures_given_catches(season, lakes, rng).mean(axis=0) for season in (0, 1)]
    )
    net = campaign.pulls["net"].values
    in_one = np.where(net == net[0], 2.0 * usual, 0.7 * usual).round()
    differ = judged(recaptures_by_net, campaign, with_recaptures(lakes, in_one), rng)
    assert differ is not None
    assert differ.said.code is Found.NETS_DIFFER
    alike = judged(recaptures_by_net, campaign, with_recaptures(lakes, usual), rng)
    assert alike is not None
    # Expected numbers, not even rounded.
    assert alike.said.code is Found.NETS_ALIKE
    # Where marked fish may keep together, numbers too even only say that they do not.
    clumped = replace(lakes, clumping=np.full(len(lakes.share), 0.2))
    even = judged(recaptures_by_net, campaign, with_recaptures(clumped, usual), rng)
    assert even is not None
    assert even.outcome == "passed"
    assert "(upper tail" in even.sentence


def test_chi_square_by_hand() -> None:
    drawn = np.tile([[2, 2]], (100_000, 1))
    observed, anew = unevenness(np.array([6.0, 2.0]), drawn)
    assert observed == pytest.approx(2.0)
    assert (anew == 0.0).all()


def test_chi_square_of_plain_chance_has_its_distribution() -> None:
    rng = np.random.default_rng(6)
    drawn = rng.multinomial(400, [0.2, 0.3, 0.5], size=20_000)
    _, anew = unevenness(np.array([80.0, 120.0, 200.0]), drawn)
    assert anew.mean() == pytest.approx(2.0, rel=0.03)
    assert np.quantile(anew, 0.95) == pytest.approx(stats.chi2(2).ppf(0.95), rel=0.05)


def two_batches(rng: np.random.Generator, **more: float) -> fishdown.Campaign:
    world = World(PONDS[:1], rounds=8, marked=600, batches=("fin_clip", "pit_tag"), **more)
    return simulate(world, rng)[0]


def test_batches_come_up_by_their_marks_at_large() -> None:
    campaign = two_batches(np.random.default_rng(7))
    groups = groups_of_season(campaign, 0, apart=True)
    lakes = lakes_of(campaign, FISH, HAZARD, 20_000)
    drawn = batches_given_recaptures(0, groups, lakes, np.random.default_rng(8))
    r = groups.recaptured.sum(axis=0)
    some = r > 0
    law = stats.hypergeom(groups.at_large.sum(axis=0)[some], groups.at_large[0][some], r[some])
    assert drawn[:, 0].mean() == pytest.approx(law.mean().sum(), abs=0.1)
    assert drawn[:, 0].std() == pytest.approx(np.sqrt(law.var().sum()), rel=0.03)
    assert (drawn.sum(axis=1) == r.sum()).all()


def test_a_batch_that_lost_its_marks_is_noticed() -> None:
    rng = np.random.default_rng(9)

    def checked(**more: float) -> CheckResult:
        campaign = two_batches(rng, **more)
        result = recaptures_by_batch(campaign, lakes_of(campaign, FISH, HAZARD), rng)
        assert result is not None
        return result

    assert_calibrated(checked, 40)
    lost = checked(clip_retention=0.3)
    assert lost.outcome == "not passed"
    assert lost.said.code is Found.BATCHES_DIFFER
    # A model that knows it does not wonder.
    campaign = two_batches(rng, clip_retention=0.3)
    lakes = lakes_of(campaign, FISH, HAZARD)
    counts = replace(lakes.data.counts, group_season=np.zeros(2, dtype=np.int64))
    kept = np.tile([0.3, 1.0], (len(lakes.share), 1))
    told = replace(lakes, data=replace(lakes.data, counts=counts), share=kept)
    result = recaptures_by_batch(campaign, told, rng)
    assert result is not None
    assert result.outcome == "passed"


def test_one_batch_has_nothing_to_compare(campaign: fishdown.Campaign, lakes: DrawnLakes) -> None:
    assert recaptures_by_batch(campaign, lakes, np.random.default_rng(1)) is None
    nobody = with_recaptures(lakes, 0.0 * lakes.data.counts.examined.recaptured)
    assert judged(recaptures_by_date, campaign, nobody, np.random.default_rng(1)) is None
    assert judged(recaptures_by_net, campaign, nobody, np.random.default_rng(1)) is None
