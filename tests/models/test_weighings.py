"""Fish weighed from catches: alike in a catch, selected by the gear, changing with the season."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from field_records import daily_pulls
from scipy import integrate, stats

import fishdown
from fishdown.models.data import fitting_spec, model_data
from fishdown.models.parts.weights.densities import alike_log_factor, weights_log_density
from fishdown.models.parts.weights.left import log_left, log_weight_change, mass_taken
from fishdown.models.parts.weights.measured import weight_data
from fishdown.models.parts.weights.weighings import days_netted, weighings


def shared_factor(spread: float) -> Any:
    """SciPy's inverse gamma of mean 1 and this coefficient of variation."""
    a = 2.0 + spread**-2
    law = stats.invgamma(a, scale=a - 1.0)
    assert law.mean() == pytest.approx(1.0)
    assert law.std() == pytest.approx(spread)
    return law


@pytest.mark.parametrize("spread", [0.02, 0.08, 0.5])
def test_shared_factor_integrates_out(spread: float) -> None:
    """The density of fish that share a factor of their mean, by quadrature over the factor."""
    law = shared_factor(spread)
    weights = np.random.default_rng(4).gamma(6.0, 2.6 / 6.0, 12)
    mean, v = 2.4, 0.4
    sums = (len(weights), weights.sum(), np.log(weights).sum())

    def joint(u: float) -> float:
        return float(np.exp(weights_log_density(*sums, mean * u, v)) * law.pdf(u))

    low, high = law.ppf([1e-12, 1.0 - 1e-12])
    expected, _ = integrate.quad(joint, low, high, points=[1.0], epsabs=0.0, epsrel=1e-10)
    shapes, load = len(weights) / v**2, weights.sum() / (v**2 * mean)
    found = weights_log_density(*sums, mean, v) + alike_log_factor(shapes, load, spread)
    assert found == pytest.approx(np.log(expected), abs=1e-8)


def test_fish_by_weight_and_by_length_share_the_factor() -> None:
    """Their variations differ: S and Q add up over both."""
    spread, mean = 0.1, 2.0
    law = shared_factor(spread)
    some, others = np.array([1.4, 2.2]), np.array([1.9, 2.5, 3.0])

    def joint(u: float) -> float:
        first = stats.gamma(0.3**-2, scale=mean * u * 0.3**2).pdf(some).prod()
        second = stats.gamma(0.5**-2, scale=mean * u * 0.5**2).pdf(others).prod()
        return float(first * second * law.pdf(u))

    expected, _ = integrate.quad(joint, 0.3, 3.0, points=[1.0], epsabs=0.0, epsrel=1e-10)
    found = sum(
        weights_log_density(len(fish), fish.sum(), np.log(fish).sum(), mean, v)
        for fish, v in ((some, 0.3), (others, 0.5))
    )
    shapes = 2 / 0.3**2 + 3 / 0.5**2
    load = (some.sum() / 0.3**2 + others.sum() / 0.5**2) / mean
    found += alike_log_factor(shapes, load, spread)
    assert found == pytest.approx(np.log(expected), abs=1e-8)


def test_no_spread_is_independent_fish() -> None:
    shapes, load = np.array([0.0, 40.0, 3_000.0]), np.array([0.0, 43.0, 2_950.0])
    # Of order ω² (S − Q)² / 2.
    assert alike_log_factor(shapes, load, 1e-4) == pytest.approx(np.zeros(3), abs=2e-5)
    # A weighing of no fish says nothing, whatever the spread.
    assert alike_log_factor(0.0, 0.0, 0.3) == pytest.approx(0.0, abs=1e-12)


def test_mass_balance_is_exact_where_the_hazard_is_proportional_to_weight() -> None:
    """Gamma weights, survival exp(−c w): by quadrature over the weights of the fish."""
    m, v = 2.3, 0.4
    law = stats.gamma(v**-2, scale=m * v**2)
    s = 1.0 + v**2
    w = np.linspace(1e-6, 25.0, 200_001)

    def moment(power: int, c: float) -> float:
        return float(integrate.simpson(w**power * np.exp(-c * w) * law.pdf(w), w))

    for c in (0.0, 0.1, 0.6):
        left, mass, square = (moment(power, c) for power in (0, 1, 2))
        # The fish that the next pull takes weigh ∫w² / ∫w on average: s times the lake's.
        assert square / mass == pytest.approx(s * mass / left, rel=1e-8)
        change = log_weight_change(np.log(left), 0.0, s, 0.0)
        assert m * np.exp(change) == pytest.approx(mass / left, rel=1e-8)
        assert mass_taken(1_000.0, 1_000.0 * (1.0 - left), s) * m == pytest.approx(
            1_000.0 * (moment(1, 0.0) - mass), rel=1e-8
        )


def test_mass_balance_pull_by_pull() -> None:
    """Many small catches of fish of s times the mean of the time, and growth in between."""
    s, trend, N, days = 1.12, 0.04, 2_000.0, 90
    fish, mass = N, N * 1.7
    kg = 0.0
    for _ in range(days):
        for _ in range(50):
            taken = 0.0002 * fish
            kg += taken * s * mass / fish
            mass -= taken * s * mass / fish
            fish -= taken
        mass *= np.exp(trend / 30.0)
    change = log_weight_change(log_left(N, N - fish), days / 30.0, s, trend)
    assert 1.7 * np.exp(change) == pytest.approx(mass / fish, rel=2e-4)
    alone = mass_taken(np.array([N, 500.0, 1.0]), np.array([300.0, 500.0, 1.0]), np.array(1.0))
    assert alone.tolist() == pytest.approx([300.0, 500.0, 1.0])


def test_an_empty_lake_has_a_weight_all_the_same() -> None:
    for s in (0.8, 1.25):
        change = log_weight_change(log_left(400.0, np.array([399.0, 400.0, 400.5])), 0.0, s, 0.0)
        assert np.isfinite(change).all()
        assert change == pytest.approx(-(s - 1.0) * np.log(400.0))


@pytest.fixture(scope="module")
def campaign(shared_folder_of: Callable[..., Path]) -> fishdown.Campaign:
    """Alder netted with two nets on three days; fish from nets, from a day's nets, and before."""
    return fishdown.read(
        shared_folder_of(
            lakes=[{"lake": lake, "area_ha": 5} for lake in ("Alder", "Birch")],
            pulls=[
                *daily_pulls("Birch", [50, 20], start="2024-06-10"),
                *(
                    {"date": day, "lake": "Alder", "net": net, "order": order, "caught": caught}
                    for day, net, order, caught in (
                        ("2024-06-01", "A", 1, 40), ("2024-06-01", "B", 2, 30),
                        ("2024-07-01", "A", 1, 20), ("2024-07-16", "B", 1, 10),
                    )
                ),
            ],
            measured=[
                {"date": date, "lake": "Alder", "net": net, "length_mm": mm, "weight_kg": kg}
                for date, net, mm, kg in FISH
            ],
        )
    )  # fmt: skip


# In the order in which a crew may write them: day, net, length, weight.
FISH: list[tuple[str, str, Any, Any]] = [
    ("2024-07-16", "", "", 2.4), ("2024-06-01", "B", 500, 1.9), ("2024-06-01", "B", "", 2.2),
    ("2024-05-02", "", 480, 1.6), ("2024-07-01", "A", 560, ""), ("2024-07-01", "A", 530, ""),
    ("2024-07-16", "", 590, 2.6), ("2024-08-15", "", "", 2.9),
    *(("2024-06-01", "A", 440 + 20 * n, round(1.4e-8 * (440 + 20 * n) ** 3, 2)) for n in range(8)),
]  # fmt: skip


def test_weighings_by_hand(campaign: fishdown.Campaign) -> None:
    found = weighings(campaign, fishdown.read_model("pooled_lakes").parts)
    assert found.season.tolist() == [0] * 6
    # 2 May, 1 June A, 1 June B, 1 July A, 16 July, 15 August: after all netting.
    assert found.netted.tolist() == [False, True, True, True, True, False]
    assert (30.0 * found.time).tolist() == pytest.approx([-30, 0, 0, 30, 45, 75])
    assert found.gone.tolist() == [0, 0, 40, 70, 90, 100]
    assert found.of_fish[:8].tolist() == [4, 2, 2, 0, 3, 3, 4, 5]
    assert days_netted(campaign).tolist() == [45.0, 1.0]
    plain = weighings(
        campaign, fishdown.read_model("pooled_lakes").with_parts(weighed="at_random").parts
    )
    assert plain.season.tolist() == [0, 1]
    assert plain.of_fish.tolist() == [0] * len(FISH)


def test_electrofishing_selectivity_needs_electrofishing(campaign: fishdown.Campaign) -> None:
    from dataclasses import replace

    model = fishdown.read_model("one_lake")
    assert fitting_spec(campaign, model)[0].part("weighed") == "by_gear"
    caught = campaign.fish["net"].values != ""
    netted = replace(campaign, fish=campaign.fish.isel(fish=np.flatnonzero(caught)))
    spec, notes = fitting_spec(netted, model)
    assert spec.part("weighed") == "by_catch"
    assert "net_selectivity" in spec.priors
    assert "electrofishing_selectivity" not in spec.priors
    assert not any("select" in note for note in notes)


def test_the_graph_is_the_density_of_every_fish(campaign: fishdown.Campaign) -> None:
    """Fish by fish with SciPy, each weighing's factor by quadrature."""
    from fishdown.models.graph import build

    closed = fishdown.read_model("pooled_lakes").with_parts(natural_deaths="none")
    spec, _ = fitting_spec(campaign, closed)
    assert (spec.part("weighed"), spec.part("lengths")) == ("by_gear", "log_log")
    model = build(spec, model_data(campaign, spec), campaign.coords)
    bare = spec.with_parts(weights="none")
    without = build(bare, model_data(campaign, bare), campaign.coords)
    s, electric, trend, spread = 1.15, 0.93, 0.04, 0.12
    m, v_typical, v_spread, v_step = 2.1, 0.4, 0.3, np.array([0.5, -1.0])
    v = v_typical * np.exp(v_spread * v_step[0])
    scatter, b, condition = 0.1, 3.1, 1.35
    N = 260.0
    groups = weighings(campaign, spec.parts)
    left = np.log((N - groups.gone) / N)
    away = trend * groups.time + (s - 1.0) * left
    away += np.log(np.where(groups.netted, s, electric))
    moved = np.mean(away[groups.of_fish])  # over all fish: each is in the sums by weight or length
    values: dict[str, Any] = {
        "mean_weight_typical": 2.0, "weight_spread": 0.3,
        "log_measured_weight": np.array([np.log(m) + moved, 0.7]),
        "weight_variation_typical": v_typical, "weight_variation_spread": v_spread,
        "weight_variation_step": v_step, "weight_pull_spread": spread, "weight_trend": trend,
        "net_selectivity": s, "electrofishing_selectivity": electric,
        "condition_typical": 1.3, "condition_spread": 0.1,
        "log_condition": np.array([np.log(condition), 0.2]), "length_exponent": b,
        "length_scatter": scatter,
    }  # fmt: skip
    bound = model_data(campaign, spec).counts.bound
    log_room = np.log(np.array([N, 200.0]) - bound + 0.5)

    def log_density(model: Any) -> float:
        point = {
            name: np.array(value) for name, value in model.initial_point(random_seed=1).items()
        }
        for variable in model.free_RVs:
            if variable.name in (known := {**values, "log_room": log_room}):
                value = np.asarray(known[variable.name], float)
                transform = model.rvs_to_transforms[variable]
                if transform is not None:
                    value = transform.forward(value, *variable.owner.inputs).eval()
                point[model.rvs_to_values[variable].name] = value
        terms = model.compile_logp(jacobian=False, sum=False)(point)
        return float(sum(np.sum(term) for term in terms))

    added = {v.name for v in model.free_RVs} - {v.name for v in without.free_RVs}
    assert added == set(values)
    expected = sum(
        float(spec.priors[name.removesuffix("_typical")].log_density(value))
        for name, value in values.items()
        if not name.startswith("log_") and not name.endswith("_step")
    )
    expected += stats.norm.logpdf(v_step).sum()
    # Sampled about the centre, shifted where fish were measured; Birch has none.
    expected += stats.norm(np.log(2.0), 0.3).logpdf(np.log(m)) + stats.norm.logpdf(0.7)
    expected += stats.norm(np.log(1.3), 0.1).logpdf(np.log(condition)) + stats.norm.logpdf(0.2)
    both = [np.log(mm) for _, _, mm, kg in FISH if mm and kg]
    centre = float(np.mean(both))
    alpha = np.log(condition) + 3 * centre - 8 * np.log(10.0)
    law = shared_factor(spread)
    for place in range(len(groups.season)):
        fish = [FISH[n][2:] for n in np.flatnonzero(groups.of_fish == place)]
        mean = m * np.exp(away[place])

        def log_joint(u: float, fish: Any = fish, mean: float = mean) -> float:
            total = float(law.logpdf(u))
            for mm, kg in fish:
                if not mm:
                    wide = np.sqrt((1 + v**2) * np.exp(scatter**2) - 1)
                    total += stats.gamma.logpdf(kg, wide**-2, scale=mean * u * wide**2)
                    continue
                z = np.exp(alpha + scatter**2 / 2 + b * (np.log(mm) - centre))
                total += stats.gamma.logpdf(z, v**-2, scale=mean * u * v**2) + np.log(b * z)
            return total

        peak = max(log_joint(u) for u in np.linspace(0.5, 2.0, 151))
        integral, _ = integrate.quad(
            lambda u, f=log_joint, top=peak: np.exp(f(u) - top), 0.4, 2.5, points=[0.9, 1.0, 1.1]
        )
        expected += peak + np.log(integral)
        for mm, kg in fish:
            if mm and kg:
                middle = alpha + b * (np.log(mm) - centre)
                expected += stats.norm(middle, scatter).logpdf(np.log(kg))
    assert log_density(model) - log_density(without) == pytest.approx(expected, abs=1e-5)


def test_cost_grows_with_weighings_not_with_fish(campaign: fishdown.Campaign) -> None:
    from dataclasses import replace

    parts = fishdown.read_model("pooled_lakes").parts
    many = replace(campaign, fish=campaign.fish.isel(fish=np.tile(np.arange(len(FISH)), 50)))
    few, more = weight_data(campaign, parts), weight_data(many, parts)
    assert few.weighed.shape == more.weighed.shape == (6,)
    np.testing.assert_allclose(more.weighed, 50 * few.weighed)
    np.testing.assert_allclose(more.length_powers, 50 * few.length_powers)
