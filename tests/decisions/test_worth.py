"""What a measurement is worth: against conjugate answers, and on a whole fit."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd
import pytest
from drawn_fits import drawn_fit, records
from scipy import stats

from fishdown.cli import main
from fishdown.decisions.schedule import Schedule
from fishdown.decisions.worth import COLUMNS, TRUTHS, _worth, cost
from fishdown.decisions.worth_measured import LakeDraws, Measurement, PullsToCome, log_weight
from fishdown.errors import PlanError
from fishdown.posterior.at_draws import evenly_spaced
from fishdown.records.settings import Settings

DRAWS = 4_000


def lake(rng: np.random.Generator, **known: Any) -> LakeDraws:
    """Make draws of which only those named tell of the biomass left."""
    ones = np.ones(DRAWS)
    plain = {
        "left": np.exp(rng.normal(np.log(90.0), 0.4, DRAWS)),
        "alive": rng.beta(40, 2, DRAWS),
        "clip": rng.beta(40, 2, DRAWS),
        "tag": rng.beta(40, 2, DRAWS),
        "retained": rng.beta(40, 2, DRAWS),
        "tag_there": rng.beta(40, 4, DRAWS),
        "marked_odds": np.exp(rng.normal(np.log(0.06), 0.3, DRAWS)),
        "weight": np.exp(rng.normal(np.log(2.0), 0.2, DRAWS)),
        "clumping": 0.0 * ones,
        "weight_variation": 0.4 * ones,
        "pull_spread": 0.0 * ones,
    }
    return LakeDraws(**{**plain, **known}, gear_odds=(1.0, 0.25), threshold=100.0)


def worth_of(
    drawn: LakeDraws, measured: tuple[Measurement, ...], rng: np.random.Generator
) -> dict[str, float]:
    told = [log_weight(drawn, one, evenly_spaced(len(drawn.left), TRUTHS), rng) for one in measured]
    return _worth(drawn, np.sum(told, axis=0))


def test_weights_narrow_as_for_a_normal_mean() -> None:
    rng = np.random.default_rng(1)
    weight = np.exp(rng.normal(np.log(2.0), 0.1, DRAWS))
    found = worth_of(
        lake(rng, weight=weight, left=45.0 * weight), (Measurement("weights", 16),), rng
    )
    # sd 0.1 before; 16 fish of variation 0.4 measure it with 0.1.
    assert found["narrower"] == pytest.approx(1.0 - np.sqrt(0.5), abs=0.02)
    assert found["ratio_now"] == pytest.approx(np.exp(2 * 1.645 * 0.1), rel=0.02)


def test_a_second_gear_narrows_no_further_than_its_own_odds_allow() -> None:
    rng = np.random.default_rng(2)
    odds = np.exp(rng.normal(np.log(0.06), 0.3, DRAWS))
    found = worth_of(
        lake(rng, marked_odds=odds, left=6.0 / odds), (Measurement("second_gear", 1_000_000),), rng
    )
    expected = 0.25 / np.hypot(0.25, 0.3)
    assert found["narrower"] == pytest.approx(1.0 - expected, abs=0.03)


@pytest.mark.parametrize("name", ["pen", "double_marks", "antenna", "second_gear", "weights"])
def test_what_tells_nothing_of_the_lake_narrows_nothing(name: str) -> None:
    rng = np.random.default_rng(3)
    found = worth_of(lake(rng), (Measurement(name, 50),), rng)
    assert abs(found["narrower"]) < 0.03


@pytest.mark.parametrize("name", ["pen", "antenna"])
def test_more_of_it_narrows_more(name: str) -> None:
    rng = np.random.default_rng(4)
    there = rng.beta(20, 3, DRAWS)
    drawn = lake(rng, alive=there, tag_there=there, left=90.0 * there**3)
    few, many = (worth_of(drawn, (Measurement(name, n),), rng)["narrower"] for n in (10, 400))
    assert 0.05 < few < many < 0.95
    assert many > few + 0.2


def test_a_beta_share_is_learnt_as_by_its_conjugate_posterior() -> None:
    rng = np.random.default_rng(5)
    share = rng.beta(20, 5, DRAWS)
    drawn = lake(rng, tag_there=share, left=np.exp(share))
    found = worth_of(drawn, (Measurement("antenna", 60),), rng)
    heard = rng.binomial(60, 0.9 * rng.beta(20, 5, 2_000))
    # By numerical posteriors on a grid.
    grid = np.linspace(0.2, 0.999, 800)
    log_prior = 19 * np.log(grid) + 4 * np.log1p(-grid)
    widths = []
    for seen in heard[:300]:
        log_like = seen * np.log(0.9 * grid) + (60 - seen) * np.log1p(-0.9 * grid)
        posterior = np.exp(log_prior + log_like - (log_prior + log_like).max())
        cumulated = np.cumsum(posterior) / posterior.sum()
        low, high = np.interp([0.05, 0.95], cumulated, grid)
        widths.append(high - low)
    now = float(np.subtract(*np.quantile(share, [0.95, 0.05])))
    assert found["narrower"] == pytest.approx(1.0 - np.mean(widths) / now, abs=0.03)


def test_double_marks_tell_of_tags_as_a_beta_posterior_does() -> None:
    """Of fish with a clip the share with a tag is t: binomial, so that a beta prior stays beta."""
    rng = np.random.default_rng(7)
    tag = rng.beta(20, 5, DRAWS)
    clip = np.full(DRAWS, 1.0 - 1e-9)
    drawn = lake(rng, clip=clip, tag=tag, left=np.exp(tag))
    found = worth_of(drawn, (Measurement("double_marks", 40),), rng)
    seen = rng.binomial(40, rng.beta(20, 5, 4_000))
    ends = stats.beta.ppf(np.array([[0.05], [0.95]]), 20 + seen, 5 + 40 - seen)
    now = np.subtract(*stats.beta.ppf([0.95, 0.05], 20, 5))
    assert found["narrower"] == pytest.approx(1.0 - np.diff(ends, axis=0).mean() / now, abs=0.03)


def to_come(rng: np.random.Generator, fish: np.ndarray, q: float, pulls: int) -> PullsToCome:
    hazard = np.full((DRAWS, pulls), -np.log1p(-q))
    caught = np.zeros((DRAWS, pulls))
    for pull in range(pulls):
        left = np.rint(fish).astype(int) - caught.sum(axis=1).astype(int)
        caught[:, pull] = rng.binomial(left, q)
    return PullsToCome(fish, hazard, caught, None, np.zeros(DRAWS))


def test_pulls_of_a_known_share_narrow_as_for_a_normal_mean() -> None:
    rng = np.random.default_rng(8)
    fish = rng.normal(2_000.0, 200.0, DRAWS)
    drawn = lake(rng, left=np.exp(fish / 1_000.0), pulls=to_come(rng, fish, 0.1, 1))
    found = worth_of(drawn, (Measurement("pulls", 1),), rng)
    # A catch over its share is the number of fish, give or take √(N (1 − q)/q).
    measured = np.sqrt(2_000.0 * 0.9 / 0.1)
    assert found["narrower"] == pytest.approx(1.0 - measured / np.hypot(measured, 200), abs=0.03)


def test_a_second_pull_is_from_what_the_first_left() -> None:
    """Of two pulls that take half, the second catch is half of the first's remainder."""
    rng = np.random.default_rng(9)
    fish = rng.normal(600.0, 80.0, DRAWS)
    two = to_come(rng, fish, 0.5, 2)
    drawn = lake(rng, left=np.exp(fish / 100.0), pulls=two)
    found = worth_of(drawn, (Measurement("pulls", 2),), rng)
    # Three quarters of the fish are taken in all: √(N (1 − p)/p) with p = 3/4.
    measured = np.sqrt(600.0 * 0.25 / 0.75)
    assert found["narrower"] == pytest.approx(1.0 - measured / np.hypot(measured, 80), abs=0.03)


@pytest.mark.parametrize("schooling", [None, 0.6])
def test_pulls_one_by_one_are_scipy_s(schooling: float | None) -> None:
    """Each from what the catches before left; fewer fish than were caught are impossible."""
    fish, caught = np.array([400.0, 300.0, 150.0]), np.array([120.0, 60.0])
    hazard = -np.log1p(-np.array([[0.3, 0.2], [0.35, 0.25], [0.5, 0.5]]))
    varied = None if schooling is None else np.full((3, 2), schooling)
    come = PullsToCome(fish, hazard, np.tile(caught, (3, 1)), varied, np.zeros(3))
    drawn = lake(np.random.default_rng(11), pulls=come)
    drawn = replace(drawn, left=np.ones(3), clumping=np.zeros(3))
    told = log_weight(drawn, Measurement("pulls", 2), np.array([0]), np.random.default_rng(1))[0]
    q = -np.expm1(-hazard)
    if schooling is None:
        first = stats.binom.logpmf(120, fish, q[:, 0])
        second = stats.binom.logpmf(60, fish - 120, q[:, 1])
    else:
        a = (1.0 - q) / schooling**2
        b = (1.0 - q) ** 2 / (q * schooling**2)
        first = stats.betabinom.logpmf(120, fish, a[:, 0], b[:, 0])
        second = stats.betabinom.logpmf(60, fish - 120, a[:, 1], b[:, 1])
    expected = first + second
    assert told[2] == expected[2] == -np.inf
    # But for what is the same for all draws.
    assert told[0] - told[1] == pytest.approx(expected[0] - expected[1], rel=1e-9)


def test_marks_in_coming_catches_tell_of_the_odds() -> None:
    rng = np.random.default_rng(10)
    odds = np.exp(rng.normal(np.log(0.05), 0.4, DRAWS))
    hazard, caught = np.full((DRAWS, 1), 0.1), np.full((DRAWS, 1), 1e5)
    # As many fish in every draw: the catch itself tells nothing.
    come = PullsToCome(np.full(DRAWS, 1e6), hazard, caught, None, odds)
    clumping = np.full(DRAWS, 0.3)
    drawn = lake(rng, left=6.0 / odds, clumping=clumping, pulls=come)
    found = worth_of(drawn, (Measurement("pulls", 1),), rng)
    assert found["narrower"] == pytest.approx(1.0 - 0.3 / np.hypot(0.3, 0.4), abs=0.04)


def test_costs_by_hand() -> None:
    prices = Settings(
        "A", "common carp", 100.0, cost_per_pull=180.0, cost_per_field_day=950.0,
        cost_per_penned_fish=4.0, cost_per_antenna=2_500.0, cost_per_weighed_fish=1.5,
    )  # fmt: skip
    days = np.array(["2025-11-01", "2025-11-01", "2025-11-08"], dtype="datetime64[D]")
    schedule = Schedule(days, ("A", "B", "A"), np.full(3, np.nan))
    assert cost(prices, Measurement("pulls", 3), schedule) == 3 * 180 + 2 * 950
    assert cost(prices, Measurement("pen", 50), None) == 200
    assert cost(prices, Measurement("antenna", 80), None) == 2_500
    assert cost(prices, Measurement("weights", 60), None) == 90
    assert np.isnan(cost(prices, Measurement("second_gear", 300), None))


def test_all_together_narrows_more_than_each_and_firms_the_verdict() -> None:
    rng = np.random.default_rng(6)
    weight = np.exp(rng.normal(np.log(2.0), 0.3, DRAWS))
    odds = np.exp(rng.normal(np.log(0.06), 0.4, DRAWS))
    drawn = lake(rng, weight=weight, marked_odds=odds, left=1.4 * weight / odds)
    each = [Measurement("weights", 200), Measurement("second_gear", 500)]
    single = [worth_of(drawn, (one,), rng) for one in each]
    both = worth_of(drawn, tuple(each), rng)
    assert both["narrower"] > max(one["narrower"] for one in single) + 0.05
    assert both["firm_expected"] > max(one["firm_expected"] for one in single)
    assert 0.0 < both["firm_expected"] < 1.0


def test_every_lake_of_a_fit_has_its_measurements(tmp_path) -> None:
    fit = drawn_fit(records(tmp_path / "two", ["Ashmere", "Birkwater"]))
    frame = fit.worth()
    assert tuple(frame.columns) == COLUMNS
    for _, rows in frame.groupby("lake", sort=False):
        single = rows[rows["measurement"] != "all"]
        assert single["narrower"].is_monotonic_decreasing
        assert rows["measurement"].iloc[-1] == "all"
        assert rows["firm_expected"].between(0.0, 1.0, inclusive="neither").all()
    few = {"pen": 10, "second_gear": 0, "pulls": 2, "weights": 0}
    assert fit.worth(**few).equals(fit.worth(**few))
    assert set(fit.worth(**few)["measurement"]) == {"pen", "pulls", "all"}
    assert "pulls" in set(frame["measurement"])
    # Without prices there is no cost, and fish of one mark are not checked for two.
    assert frame[["cost", "narrower_per_1000"]].isna().all(axis=None)
    assert "double_marks" not in set(frame["measurement"])


def test_prices_of_a_campaign(tmp_path, capsys) -> None:
    folder = records(tmp_path / "priced")
    marked = pd.read_csv(folder / "marked.csv").assign(mark="both")
    marked.to_csv(folder / "marked.csv", index=False)
    with (folder / "campaign.toml").open("a", encoding="utf-8") as file:
        file.write(
            'currency = "EUR"\ncost_per_penned_fish = 4\ncost_per_double_mark = 0\n'
            "cost_per_weighed_fish = 1.5\ncost_per_pull = 180\n"
        )
    results = drawn_fit(folder).save(tmp_path / "out")
    assert main(["worth", str(results), "--pen", "25", "--pulls", "4"]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "For its cost" in said
    frame = pd.read_csv(results / "worth.csv").set_index("measurement")
    assert frame.loc[["pen", "weights", "pulls", "double_marks"], "cost"].tolist() == [
        100, 90, 720, 0
    ]  # fmt: skip
    priced = frame.loc["pen"]
    assert priced["narrower_per_1000"] == pytest.approx(10.0 * priced["narrower"])
    # What costs nothing has no narrowing for its cost, and all together no cost without a price.
    assert frame.loc[["double_marks", "all"], "narrower_per_1000"].isna().all()
    assert np.isnan(frame.loc["all", "cost"])


def test_what_is_withheld_has_no_numbers(tmp_path) -> None:
    fit = drawn_fit(records(tmp_path / "failed"), divergences=2)
    frame = fit.worth()
    assert frame["narrower"].isna().all()
    assert frame["gate"].str.contains("divergent").all()
    assert fit.worth(despite_gate=True)["narrower"].notna().all()


def test_it_needs_effective_marks_and_numbers_of_fish(tmp_path) -> None:
    fit = drawn_fit(records(tmp_path / "one"))
    with pytest.raises(PlanError, match="pen -1: write 0 or more"):
        fit.worth(pen=-1)
    sure = {"marks": "all_count", **dict.fromkeys(("antenna", "surveys", "second_looks"), "none")}
    bare = drawn_fit(records(tmp_path / "bare"), "one_lake", **sure)
    with pytest.raises(PlanError, match="worth needs a fit with effective marks and biomass"):
        bare.worth()


def test_the_command_prints_and_writes(tmp_path, capsys) -> None:
    results = drawn_fit(records(tmp_path / "records")).save(tmp_path / "out")
    assert main(["worth", str(results), "--pen", "80"]) == 0
    said = capsys.readouterr().out
    assert "80 marked fish" in said
    assert "the verdict is firm now. Of these, one would narrow" in said
    assert "100 %" not in said
    assert (results / "worth.csv").read_text(encoding="utf-8").startswith("lake,season,measurement")
