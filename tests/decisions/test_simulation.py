"""Pulls to come against closed forms."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest
from drawn_fits import drawn_fit, records
from scipy import stats

from fishdown import Fit
from fishdown.decisions.schedule import Schedule, continued, ordered
from fishdown.decisions.simulation import catches, hazard_ahead, simulate, vulnerable_fish
from fishdown.errors import PlanError
from fishdown.models.data import model_data
from fishdown.models.parts.catch import beta_shape
from fishdown.posterior.cooling import relative_hazard
from fishdown.posterior.pull_hazard import pull_hazard, stacked

DRAWS = 40_000


@pytest.fixture(scope="module")
def fit(tmp_path_factory: pytest.TempPathFactory) -> Fit:
    folder = records(tmp_path_factory.mktemp("one") / "records")
    plain = {"nets": "alike", "nights": "alike", "drift": "none", "first_pulls": "alike"}
    return drawn_fit(folder, "one_lake", natural_deaths="none", **plain)


def few_draws(fish: float, share: float, pulls: int, schooling: float | None) -> np.ndarray:
    hazard = np.full((DRAWS, pulls), -np.log1p(-share))
    spread = None if schooling is None else np.full(hazard.shape, schooling)
    return catches(np.full(DRAWS, fish), hazard, spread, np.random.default_rng(4))


@pytest.mark.parametrize("schooling", [None, 0.6])
def test_expected_number_left_falls_geometrically(schooling: float | None) -> None:
    left = 300.0 - few_draws(300.0, 0.08, 12, schooling).sum(axis=1)
    error = left.std() / np.sqrt(DRAWS)
    assert left.mean() == pytest.approx(300.0 * 0.92**12, abs=4.0 * error)
    assert error < 0.5


def test_number_left_by_chance_is_binomial() -> None:
    """Each fish stays by (1 − q)^K, whatever the order of pulls."""
    left = 50 - few_draws(50.0, 0.1, 5, None).sum(axis=1)
    found = np.bincount(left.astype(int), minlength=51)
    wanted = stats.binom.pmf(np.arange(51), 50, 0.9**5)
    kept = DRAWS * wanted > 5.0
    both = [np.append(x[kept], x[~kept].sum()) for x in (found, DRAWS * wanted)]
    assert stats.chisquare(*both).pvalue > 0.001


def test_a_catch_with_schooling_is_beta_binomial() -> None:
    caught = few_draws(80.0, 0.15, 1, 0.7)[:, 0]
    a, b = beta_shape(-np.log1p(-0.15), 0.7)
    law = stats.betabinom(80, a, b)
    assert caught.var() == pytest.approx(law.var(), rel=0.03)
    assert law.var() == pytest.approx(80 * 0.15 * 0.85 * (a + b + 80) / (a + b + 1))
    values = np.arange(81)
    found, wanted = np.bincount(caught.astype(int), minlength=81), DRAWS * law.pmf(values)
    kept = wanted > 5.0
    both = [np.append(x[kept], x[~kept].sum()) for x in (found, wanted)]
    assert stats.chisquare(*both).pvalue > 0.001


def test_never_more_than_there_are() -> None:
    hazard = np.full((1_000, 4), 3.0)
    caught = catches(
        np.full(1_000, 3.4), hazard, np.full(hazard.shape, 0.5), np.random.default_rng(1)
    )
    assert caught.sum(axis=1).max() == 3.0
    assert catches(np.zeros(5), hazard[:5], None, np.random.default_rng(1)).sum() == 0.0


def test_hazards_of_any_size_have_a_catch() -> None:
    # A hot draw of water to come, or a pull in a puddle, may have a hazard beyond all numbers.
    hazard = np.array([0.0, 40.0, 400.0, 1e6])[:, None]
    for schooling in (None, np.full((4, 1), 0.7)):
        caught = catches(np.full(4, 50.0), hazard, schooling, np.random.default_rng(1))
        np.testing.assert_array_equal(caught.ravel(), [0.0, 50.0, 50.0, 50.0])


def test_hazard_is_that_of_the_model_at_the_plan_s_temperature(fit: Fit) -> None:
    schedule = ordered([(dt.date(2024, 9, 1), "A", 11.0), (dt.date(2024, 9, 2), "B", 20.0)])
    rng = np.random.default_rng(1)
    found = simulate(fit, 0, schedule, rng)
    fished = stacked(fit.tree["posterior"].dataset["area_fished_ha"])[:, 0]
    base = fished / float(fit.campaign.lakes["area"][0])
    wanted = base[:, None] * relative_hazard(fit, [11.0, 20.0])[:, 0]
    np.testing.assert_allclose(found.hazard, wanted)
    assert (found.temperature == [[11.0, 20.0]]).all()


def test_expected_catches_are_the_mean_of_catches(fit: Fit) -> None:
    found = simulate(fit, 0, continued(fit.campaign, 0, 6), np.random.default_rng(1))
    behind = found.catch - found.mean_catch
    error = behind.std(axis=0) / np.sqrt(len(behind))
    assert (np.abs(behind.mean(axis=0)) < 4.0 * error).all()
    assert (found.mean_catch.std(axis=0) < 0.7 * found.catch.std(axis=0)).all()


def test_a_repeated_pull_has_the_hazard_it_had(fit: Fit) -> None:
    """The hazard of the fit, at the net and temperature of a pull on record."""
    pull = 4
    data = model_data(fit.campaign, fit.spec)
    pulls = fit.campaign.pulls
    schedule = ordered(
        [
            (
                dt.date(2025, 1, 1),
                str(pulls["net"].values[pull]),
                data.effects["temperature"].value[pull],
            )
        ]
    )
    celsius = np.broadcast_to(schedule.temperature, (2_000, 1))
    again = hazard_ahead(fit, 0, schedule, celsius, np.random.default_rng(1))
    posterior = fit.tree["posterior"].dataset
    was = pull_hazard(posterior, fit.spec, data.area, data.catches.lake, data.effects)
    np.testing.assert_allclose(again[:, 0], was[:, pull])


def with_parts(fit: Fit, **draws: np.ndarray) -> Fit:
    tree = fit.tree.copy()
    posterior = fit.tree["posterior"].to_dataset()
    extra = {
        name: (("chain", "draw", "net")[: values.ndim], values) for name, values in draws.items()
    }
    tree["posterior"] = tree["posterior"].copy()
    tree["posterior"].dataset = posterior.assign(extra)
    return replace(fit, tree=tree)


def spec_with(fit: Fit, **parts: str) -> Fit:
    import fishdown

    detailed = fishdown.read_model("detailed_nets")
    hidden = fishdown.read_model("hidden_fish")
    priors = {**hidden.priors, **detailed.priors, **fit.spec.priors}
    chosen = replace(
        detailed,
        parts={**fit.spec.parts, **parts},
        priors={
            name: priors[name]
            for name in fishdown.models.spec.needed_priors({**fit.spec.parts, **parts})
        },
    )
    return replace(fit, spec=chosen)


def test_rest_counts_from_the_last_pull_on_record(fit: Fit) -> None:
    size = (4, 500)
    loss, recovery = np.full(size, 0.6), np.full(size, 3.0)
    rested = spec_with(with_parts(fit, rest_loss=loss, rest_recovery=recovery), rest="recovering")
    last = fit.campaign.pulls["date"].values[-1].astype("datetime64[D]").astype(dt.date)
    days = [last + dt.timedelta(days=day) for day in (2, 5)]
    net = str(fit.campaign.pulls["net"].values[-1])
    schedule = ordered([(days[0], net, 20.0), (days[1], net, 20.0), (days[1], "new", 20.0)])
    celsius = np.full((2_000, 3), 20.0)
    rng = np.random.default_rng(1)
    factor = hazard_ahead(rested, 0, schedule, celsius, rng) / hazard_ahead(
        fit, 0, schedule, celsius, rng
    )
    wanted = [1 - 0.6 * np.exp(-2 / 3), 1 - 0.6 * np.exp(-3 / 3), 1.0]
    np.testing.assert_allclose(factor, np.tile(wanted, (2_000, 1)))


def test_later_pulls_are_counted_from_the_pulls_on_record(fit: Fit) -> None:
    later = spec_with(with_parts(fit, later_pulls=np.full((4, 500), 0.6)), first_pulls="best")
    last = fit.campaign.pulls["date"].values[-1].astype("datetime64[D]").astype(dt.date)
    day = last + dt.timedelta(days=30)
    net = str(fit.campaign.pulls["net"].values[-1])
    schedule = ordered([(day, net, 20.0), (day, "new", 20.0), (day, "new", 20.0)])
    celsius = np.full((2_000, 3), 20.0)
    rng = np.random.default_rng(1)
    factor = hazard_ahead(later, 0, schedule, celsius, rng) / hazard_ahead(
        fit, 0, schedule, celsius, rng
    )
    np.testing.assert_allclose(factor, np.tile([0.6, 1.0, 0.6], (2_000, 1)))


def test_known_nets_keep_their_factor_and_new_ones_are_drawn(fit: Fit) -> None:
    size = (4, 500)
    step = np.stack([np.full(size, 0.5), np.full(size, -1.0)], axis=-1)
    differing = spec_with(
        with_parts(fit, net_spread=np.full(size, 0.4), net_step=step), nets="differ"
    )
    day = dt.date(2024, 9, 1)
    schedule = ordered([(day, "A", 20.0), (day, "B", 20.0), (day, "C", 20.0), (day, "C", 20.0)])
    celsius = np.full((2_000, 4), 20.0)
    rng = np.random.default_rng(1)
    factor = np.log(
        hazard_ahead(differing, 0, schedule, celsius, rng)
        / hazard_ahead(fit, 0, schedule, celsius, rng)
    )
    np.testing.assert_allclose(factor[:, 0], 0.2)
    np.testing.assert_allclose(factor[:, 1], -0.4)
    assert factor[:, 2].std() == pytest.approx(0.4, rel=0.06)
    # The same net is the same net at both of its pulls.
    np.testing.assert_allclose(factor[:, 2], factor[:, 3])


def test_fish_not_vulnerable_are_not_caught(fit: Fit) -> None:
    size = (4, 500)
    some = spec_with(with_parts(fit, vulnerable=np.full(size, 0.5)), vulnerable="some")
    abundance = stacked(fit.tree["posterior"].dataset["abundance"])[:, 0]
    gone = float(fit.campaign.seasons["gone"][0])
    np.testing.assert_allclose(vulnerable_fish(fit, 0), abundance - gone)
    np.testing.assert_allclose(vulnerable_fish(some, 0), np.maximum(0.5 * abundance - gone, 0.0))


def test_marks_alone_say_nothing_of_pulls(fit: Fit) -> None:
    silent = replace(fit, spec=fit.spec.with_parts(evidence="marks"))
    with pytest.raises(PlanError, match="fit a model with catches"):
        simulate(silent, 0, continued(fit.campaign, 0, 3), np.random.default_rng(1))


# --- the plan


def test_a_plan_continues_the_records(fit: Fit) -> None:
    """Two pulls each tenth day, by nets A and B in turn; the last day was 30 July."""
    plan = continued(fit.campaign, 0, 5)
    assert plan.date.astype(str).tolist() == [
        "2024-08-09",
        "2024-08-09",
        "2024-08-19",
        "2024-08-19",
        "2024-08-29",
    ]
    assert plan.net == ("A", "B", "A", "B", "A")
    assert plan.field_days.tolist() == [1, 1, 2, 2, 3]
    assert np.isnan(plan.temperature).all()


def test_a_plan_as_asked_for(fit: Fit) -> None:
    plan = continued(
        fit.campaign,
        0,
        3,
        start=dt.date(2024, 9, 1),
        days_between=3,
        pulls_a_day=1,
        temperature=12.0,
    )
    assert plan.date.astype(str).tolist() == ["2024-09-01", "2024-09-04", "2024-09-07"]
    assert (plan.temperature == 12.0).all()


@pytest.mark.parametrize(
    ("options", "said"),
    [
        ({"pulls": 0}, "pulls = 0: write a whole number from 1"),
        ({"pulls": 3, "days_between": 0}, "days between = 0"),
        ({"pulls": 3, "temperature": 55.0}, "55 °C is not a temperature"),
        ({"pulls": 3, "start": dt.date(2024, 7, 1)}, "before the last pull of Pond"),
    ],
)
def test_what_cannot_be_planned(fit: Fit, options: dict, said: str) -> None:
    with pytest.raises(PlanError, match=said):
        continued(fit.campaign, 0, **options)


def test_schedule_is_put_in_order() -> None:
    plan: Schedule = ordered([(dt.date(2024, 9, 2), "B", 1.0), (dt.date(2024, 9, 1), "A", 2.0)])
    assert plan.net == ("A", "B")
