"""A rule with checks against a constant removal: closed forms, enumeration, and from a fit."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
from command_lines import assert_readable, joined
from drawn_fits import drawn_fit, records, with_thresholds
from lake_stocks import MANY, SIZE, stock, young
from scipy import stats

from fishdown import Fit
from fishdown.cli import main
from fishdown.decisions.harvest_rules import CheckedNetting, Checks, compared_rules, highest_target
from fishdown.decisions.projection import Removal, project, shares_below
from fishdown.decisions.rules_tables import COLUMNS, YEAR_COLUMNS
from fishdown.errors import PlanError

AREA = 10.0


def luck(years: int, seed: int = 3) -> np.ndarray[Any, Any]:
    return np.random.default_rng(seed).standard_normal((years, *SIZE))


def test_a_check_without_error_every_year_leaves_the_target() -> None:
    lake = stock(4, times=MANY)
    rule = CheckedNetting(Checks(1, 0.0, 1.0), 60.0, AREA * MANY, luck(4))
    ends = project(lake, young(4, 100.0 * MANY), rule)
    np.testing.assert_allclose(ends.kg / (AREA * MANY), 60.0, rtol=1e-9)
    # 300 fish of 2 kg are the target; 80 % survive, and 100 join.
    np.testing.assert_allclose(ends.netted[0] / MANY, 900.0 - 300.0, rtol=1e-4)


def test_what_nets_could_not_take_is_taken_in_the_years_after_and_no_more() -> None:
    lake = stock(4, times=MANY, survival=0.999999)
    rule = CheckedNetting(Checks(4, 0.0, 0.4), 80.0, AREA * MANY, luck(4))
    ends = project(lake, young(4, 1e-6 * MANY), rule)
    # 1,000 fish, 400 of them above the target: 400 a year at most, then 360 of 600 and so on.
    np.testing.assert_allclose(ends.netted[:, 0, 0] / MANY, [400.0, 200.0, 0.0, 0.0], atol=0.1)


def test_between_checks_no_more_is_taken_than_the_check_asked_for() -> None:
    lake = stock(3, times=MANY, fish=300.0)
    rule = CheckedNetting(Checks(2, 0.0, 1.0), 60.0, AREA * MANY, luck(3))
    netted = project(lake, young(3, 200.0 * MANY), rule).netted[:, 0, 0] / MANY
    # 440 fish, 300 left; 440 again but no check; then 552 are found, and 300 left.
    np.testing.assert_allclose(netted, [140.0, 0.0, 252.0], atol=0.1)


def test_the_estimate_of_a_check_has_its_mean_and_its_coefficient_of_variation() -> None:
    drawn = np.random.default_rng(1).standard_normal((1, 4, 50_000))
    asked = Checks(1, 0.4, 1.0)
    # Netted is the excess of the estimate over half the density, of a lake of 2 kg/ha.
    fish = np.full(drawn.shape[1:], 10.0)
    left = CheckedNetting(asked, 0.0, 5.0, drawn).leaves(fish, np.ones(fish.shape), 0)
    share = 1.0 - left / fish
    factor = stats.lognorm(s=np.sqrt(np.log1p(0.16)), scale=1.0 / np.sqrt(1.16))
    assert factor.mean() == pytest.approx(1.0)
    assert factor.std() == pytest.approx(0.4)
    for below in (0.5, 0.7, 0.95):
        assert np.mean(share < below) == pytest.approx(factor.cdf(below), abs=4e-3)


def test_nets_take_no_more_than_their_share_of_the_fish() -> None:
    lake = stock(3)
    ends = project(lake, young(3), Removal("fish", 500.0, 0.25))
    before = ends.fish + ends.netted
    np.testing.assert_allclose(ends.netted, np.minimum(500.0, 0.25 * before))
    heavy = project(lake, young(3), Removal("kg", 1e9, 0.25))
    np.testing.assert_allclose(heavy.netted / (heavy.fish + heavy.netted), 0.25)


def test_both_reach_the_wanted_probability_and_little_more() -> None:
    lake = stock(4, recruit_variation=0.8, winter_spread=0.4)
    fish, checks, drawn = young(4, 100.0), Checks(2, 0.3, 0.8), luck(4)
    rule, constant = compared_rules(lake, fish, checks, 100.0, 0.8, drawn)
    assert rule.reached
    assert constant.reached
    assert 0.8 <= rule.below.min() < 0.81
    assert 0.8 <= constant.below.min() < 0.81

    def with_target(target: float) -> float:
        ends = project(lake, fish, CheckedNetting(checks, target, AREA, drawn))
        return float(shares_below(lake, ends, 100.0).min())

    tried = np.arange(0.0, 100.0, 0.5)
    enough = np.array([with_target(target) >= 0.8 for target in tried])
    assert rule.amount == pytest.approx(tried[enough].max(), abs=0.6)
    tried = np.arange(300.0, 700.0)
    enough = np.array(
        [
            shares_below(lake, project(lake, fish, Removal("fish", x, 0.8)), 100.0).min() >= 0.8
            for x in tried
        ]
    )
    assert constant.amount == pytest.approx(tried[enough].min(), abs=1.5)


def test_a_worse_check_asks_for_a_lower_target() -> None:
    lake, fish = stock(4, recruit_variation=0.8), young(4, 100.0)
    targets = [
        compared_rules(lake, fish, Checks(2, error, 0.9), 100.0, 0.8, luck(4))[0].amount
        for error in (0.05, 0.3, 0.6)
    ]
    assert targets[0] > targets[1] > targets[2] > 0.0


def test_where_nets_cannot_take_enough_it_is_said_so() -> None:
    lake, fish = stock(2, recruit_variation=0.5), young(2, 150.0)
    rule, constant = compared_rules(lake, fish, Checks(1, 0.2, 0.05), 100.0, 0.8, luck(2))
    assert not rule.reached
    assert not constant.reached
    assert rule.amount == 0.0
    assert np.isinf(constant.amount)


def test_where_no_netting_is_needed_none_is_done() -> None:
    lake = stock(3, fish=100.0)
    rule, constant = compared_rules(lake, young(3), Checks(1, 0.5, 0.5), 100.0, 0.8, luck(3))
    assert np.isinf(rule.amount)
    assert constant.amount == 0.0
    assert not rule.ends.netted.any()
    assert not constant.ends.netted.any()


def test_the_error_of_a_target_is_how_far_it_strays_from_run_to_run() -> None:
    rng = np.random.default_rng(8)
    found, errors = [], []
    for _ in range(40):
        lake = stock(2, recruit_variation=0.8, seed=int(rng.integers(1_000_000)))
        drawn = luck(2, int(rng.integers(1_000_000)))
        rule, _ = compared_rules(lake, young(2, 150.0), Checks(2, 0.3, 0.6), 100.0, 0.8, drawn)
        found.append(rule.amount)
        errors.append(rule.amount_error)
    assert np.mean(errors) == pytest.approx(np.std(found), rel=0.4)


def test_the_bisection_of_a_target() -> None:
    found = highest_target(lambda target: 1.0 - target / 100.0, 0.8, 90.0)
    assert found == pytest.approx(20.0, abs=0.1)


@pytest.fixture(scope="module")
def pond(tmp_path_factory: pytest.TempPathFactory) -> Fit:
    return with_thresholds(drawn_fit(records(tmp_path_factory.mktemp("pond"))), 40.0)


def test_rules_leave_the_projection_as_it_is(pond: Fit) -> None:
    plain, checked = pond.years(4), pond.years(4, check_every=2)
    pd.testing.assert_frame_equal(plain.frame, checked.frame)
    assert plain.holding == checked.holding
    assert plain.assumes == checked.assumes
    assert plain.rules is None
    assert checked.rules is not None
    assert checked.rules_by_year is not None
    assert tuple(checked.rules.columns) == COLUMNS
    assert tuple(checked.rules_by_year.columns) == YEAR_COLUMNS
    assert len(checked.rules) == 3 * 2
    assert len(checked.rules_by_year) == 3 * 2 * 4


def test_totals_are_those_of_the_years_and_the_difference_is_paired(pond: Fit) -> None:
    ahead = pond.years(4, check_every=2, young="open")
    assert ahead.rules is not None
    assert ahead.rules_by_year is not None
    totals = ahead.rules.set_index("rule")
    by_year = ahead.rules_by_year.groupby("rule")
    for unit in ("fish", "kg"):
        added = by_year[f"{unit}_removed_mean"].sum()
        assert totals[f"{unit}_removed_mean"].to_dict() == pytest.approx(added.to_dict())
        fewer = added["constant"] - added["checks"]
        assert totals.loc["checks", f"{unit}_fewer_mean"] == pytest.approx(fewer)
    assert by_year["probability_below"].min()["checks"] == totals.loc["checks", "probability_below"]
    netted = by_year["probability_netted"].sum()["checks"]
    assert totals.loc["checks", "years_netted_mean"] == pytest.approx(netted, abs=0.01)
    # The whole number of fish that is said is that of the fit without checks, or near it: nets
    # that take half of the fish at most do not bind.
    held = ahead.frame["fish_a_year_for_80"].max()
    assert totals.loc["constant", "fish_a_year"] == pytest.approx(held, rel=0.1)


def test_the_error_of_a_check_is_by_default_that_of_the_fit(pond: Fit) -> None:
    rules = pond.years(2, check_every=1, young="open").rules
    assert rules is not None
    before = pond.quantities["biomass_before"].isel(season=-1).values
    spread = before.std() / before.mean()
    assert rules["check_error"].iloc[0] == pytest.approx(spread, rel=0.1)
    given = pond.years(2, check_every=1, check_error=0.3, young="open").rules
    assert given is not None
    assert set(given["check_error"]) == {0.3}
    assert given["target_kg_per_ha"].iloc[0] < rules["target_kg_per_ha"].iloc[0]


def test_all_that_is_wrong_is_said_at_once(pond: Fit) -> None:
    with pytest.raises(PlanError) as caught:
        pond.years(3, check_every=4, check_error=3.0, most_removed=0.0)
    for part in ("check every 4 years", "error of a check 3", "at most 0 of the fish"):
        assert part in str(caught.value)
    with pytest.raises(PlanError, match="belongs to a rule with checks"):
        pond.years(3, check_error=0.2)


def test_what_a_gate_withholds_is_withheld_from_the_rules(tmp_path: Path) -> None:
    fit = drawn_fit(records(tmp_path / "records"), divergences=40)
    rules = fit.years(2, check_every=1).rules
    assert rules is not None
    assert rules["statement"].str.startswith("Withheld for Pond").all()
    assert rules["fish_removed_mean"].isna().all()
    shown = fit.years(2, check_every=1, despite_gate=True).rules
    assert shown is not None
    assert shown["statement"].str.startswith("WARNING, the gate failed").all()


def test_without_weights_no_rule_is_compared(tmp_path: Path) -> None:
    fit = drawn_fit(records(tmp_path / "records", weighed=False))
    rules = fit.years(2, check_every=1, young="open").rules
    assert rules is not None
    assert "mean weight is unknown" in rules["statement"].iloc[0]


def test_the_command_prints_writes_and_clears(
    pond: Fit, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = pond.save(tmp_path / "fit")
    assert main(["years", str(folder), "--check-every", "2", "--young", "open"]) == 0
    printed = capsys.readouterr().out
    assert_readable(printed)
    rules = pd.read_csv(folder / "harvest_rules.csv")
    assert tuple(rules.columns) == COLUMNS
    for statement in rules["statement"]:
        assert joined(statement) in joined(printed)
    assert (folder / "harvest_rules.png").stat().st_size > 10_000
    assert "removed on average in" in (folder / "harvest_rules.txt").read_text(encoding="utf-8")
    assert main(["report", str(folder)]) == 0
    page = (folder / "report.html").read_text(encoding="utf-8")
    assert "A check every so many years against a constant removal" in page
    # The next projection is without checks, and leaves none behind.
    assert main(["years", str(folder), "--young", "open"]) == 0
    assert not list(folder.glob("harvest_rules*"))


def test_us_units(pond: Fit) -> None:
    campaign = pond.campaign
    us = replace(pond, campaign=replace(campaign, settings=replace(campaign.settings, units="us")))
    rules = us.years(2, check_every=1, young="open").rules
    assert rules is not None
    assert "lb/acre" in rules["statement"].iloc[0]
    assert "kg" not in rules["statement"].iloc[0]
