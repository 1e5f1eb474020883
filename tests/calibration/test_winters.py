"""Lakes drawn over several years, against moments and SciPy's laws; nothing is sampled."""

from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np
import pymc as pm
import pytest
import xarray as xr
from scipy import special, stats

import fishdown
from fishdown.calibration.crew_notes import draw_campaign
from fishdown.calibration.design import Design, design_for, fed
from fishdown.calibration.truth import Truth
from fishdown.calibration.walked import walked
from fishdown.calibration.winters import winter
from fishdown.models.data import model_data
from fishdown.models.graph import build
from fishdown.models.parts.years.transition import Transition, survival_of_winter

RATES = {
    "winter_survival": 0.7, "process_error": 0.15, "recruit_variation": 1.2,
    "overwinter_retention": 0.8, "exchange": 0.3, "outside_ratio": 0.5, "young_eaten_effect": 0.1,
}  # fmt: skip
LEVEL, LEFT, MARKS = 1000.0, 900.0, 120
DRAWS = 20


def winters_of(lake: int, count: int = 4000, **changes: float) -> tuple[np.ndarray, np.ndarray]:
    """Draw winters of a closed lake (0), one with connected waters (1) or with young eaten (2)."""
    values = {name: np.array([value]) for name, value in (RATES | changes).items()}
    # At a median survival of 0.8, 400 recruits are twice those that replace 1,000 fish.
    values["survival"] = np.full(3, 0.8)
    values["replacement"] = np.full(3, changes.get("replacement", 2.0))
    lakes = xr.Dataset(
        {
            "connected": ("lake", [False, True, False]),
            "young_eaten": ("lake", [False, False, True]),
        }
    )
    rng = np.random.default_rng(3)
    drawn = [winter(values, lakes, (lake, 0), LEVEL, LEFT, MARKS, rng) for _ in range(count)]
    return np.array([fish for fish, _ in drawn]), np.array([lasted for _, lasted in drawn])


def test_survivors_and_recruits_have_their_own_mean_and_variance() -> None:
    # The mean is 0.7 × 900 + 400; the variance that of binomial survivors and varying recruits.
    fish, _ = winters_of(0, recruit_variation=0.3, process_error=0.0)
    deviation = np.sqrt(900.0 * 0.7 * 0.3 + 400.0 + 120.0**2)
    assert fish.mean() == pytest.approx(1030.0, abs=4.0 * deviation / np.sqrt(4000))
    assert fish.std() == pytest.approx(deviation, rel=0.06)
    # Where predators eat the young, a tenth of the recruits is left.
    fish, _ = winters_of(2, recruit_variation=0.3, process_error=0.0)
    deviation = np.sqrt(900.0 * 0.7 * 0.3 + 40.0 + 12.0**2)
    assert fish.mean() == pytest.approx(670.0, abs=4.0 * deviation / np.sqrt(4000))
    assert fish.std() == pytest.approx(deviation, rel=0.06)


@pytest.mark.parametrize("lake", [0, 1])
def test_fish_are_drawn_from_the_density_of_the_models(lake: int) -> None:
    fish, lasted = winters_of(lake)
    e = 0.3 * lake
    expected = Transition(LEFT, 0.7, 400.0, 1.2, e, 500.0, 0.15)
    law = stats.norm(expected.centre, expected.spread)
    assert stats.kstest(np.log(fish), law.cdf).pvalue > 0.01
    marks = stats.binom(MARKS, 0.7 * (1.0 - e) * 0.8)
    assert lasted.mean() == pytest.approx(marks.mean(), abs=4.0 * marks.std() / np.sqrt(4000))
    assert lasted.std() == pytest.approx(marks.std(), rel=0.06)
    # Given the survival of the winter, fish and marks that last are not tied to each other.
    assert abs(stats.spearmanr(fish, lasted).statistic) < 4.0 / np.sqrt(4000)


def test_luck_of_a_winter_meets_fish_and_marks_alike() -> None:
    poor, good = (winters_of(0, winter_survival=share, replacement=0.01) for share in (0.5, 0.9))
    for fish, marks in zip(poor, good, strict=True):
        assert fish.mean() / marks.mean() == pytest.approx(0.5 / 0.9, rel=0.02)


@cache
def drawn(count: int) -> tuple[fishdown.ModelSpec, Design, list[tuple[fishdown.Campaign, Truth]]]:
    spec, left_out = fed(fishdown.read_model("many_years"))
    others = ('antenna = "heard"', 'surveys = "second_gear"', 'second_looks = "taken"')
    assert left_out == ('area = "by_date"', *others)
    design = design_for(spec)
    template, rng = design.template(), np.random.default_rng(5)
    found = [draw_campaign(spec, design, template, rng)[:2] for _ in range(count)]
    return spec, design, found


def test_the_books_balance_over_the_years() -> None:
    _, design, found = drawn(DRAWS)
    assert design.years == (0, 1, 3)
    for campaign, truth in found:
        seasons = {name: array.values for name, array in campaign.seasons.data_vars.items()}
        by_season = {
            name: np.bincount(
                campaign.pulls["season_index"].values, campaign.pulls[name].values, 12
            )
            for name in ("caught", "recaptured")
        }
        np.testing.assert_array_equal(seasons["gone"], by_season["caught"])
        assert by_season["caught"].reshape(3, 4)[:, 2].tolist() == [0, 0, 0]
        change = seasons["marked"] - by_season["recaptured"]
        np.testing.assert_array_equal(seasons["marks_left"] - seasons["carried_most"], change)
        carried = seasons["carried_most"].reshape(3, 4)
        assert not carried[:, 0].any()
        np.testing.assert_array_equal(carried[:, 1:], seasons["marks_left"].reshape(3, 4)[:, :-1])
        # Of the marks that were left in truth, some last; no more fish are taken than there are.
        lasted = truth.carried.reshape(3, 4)
        most = lasted[:, :-1] + change.reshape(3, 4)[:, :-1]
        assert (lasted[:, 1:] <= most).all()
        assert (truth.abundance - seasons["gone"] > -0.5).all()
        assert (truth.carried + change >= 0).all()


def test_survival_of_the_winters_is_that_of_the_models() -> None:
    _, _, found = drawn(DRAWS)
    steps = []
    for _, truth in found:
        values = truth.values
        of_winters = np.repeat(values["survival"], 3)
        expected = survival_of_winter(of_winters, values["winter_spread"], values["winter_step"])
        np.testing.assert_allclose(values["winter_survival"], expected)
        apart = special.logit(values["survival"]) - special.logit(values["survival_typical"])
        np.testing.assert_allclose(apart, values["survival_spread"] * values["survival_step"])
        steps.append(values["winter_step"])
    assert stats.kstest(np.concatenate(steps), "norm").pvalue > 0.001


def test_records_allow_what_was_true_and_marks_are_carried_over_the_same_winters() -> None:
    spec, _, found = drawn(DRAWS)
    carrying = set()
    for campaign, truth in found:
        data = model_data(campaign, spec)
        assert data.winters is not None
        carrying.add(tuple(tuple(level.tolist()) for level in data.winters.carrying))
        assert (data.winters.marks_needed <= truth.carried).all()
        assert (data.counts.bound <= truth.unmarked + 0.5).all()
    # Otherwise a compiled model could not be fed with one campaign after the other.
    assert carrying == {((0, 3, 6), (1, 4, 7), (2, 5, 8))}


def test_the_truth_has_a_density_in_every_campaign() -> None:
    spec, _, found = drawn(DRAWS)
    campaign, _ = found[0]
    graph = build(spec, model_data(campaign, spec), campaign.coords)
    density = graph.compile_logp(sum=False, mode="FAST_COMPILE")
    start = graph.initial_point()
    onto: dict[str, Any] = {"log": np.log, "logodds": special.logit}
    for campaign, truth in found:
        data = model_data(campaign, spec)
        with graph:
            pm.set_data(data.arrays())
        known: dict[str, Any] = truth.values | walked(truth, spec, data)
        point = {}
        for name, like in start.items():
            # A positive variable is walked over as "name_log__".
            stem, _, transform = name.removesuffix("__").rpartition("_")
            value = onto[transform](known[stem]) if name.endswith("__") else known[name]
            point[name] = np.reshape(value, like.shape)
        assert all(np.isfinite(part).all() for part in density(point))
