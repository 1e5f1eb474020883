"""Fish and kg still to remove, against quantiles worked out by hand."""

from __future__ import annotations

import numpy as np
import pytest
from fake_fits import POND, fake_fit, independent
from scipy import stats

COLUMNS = [
    "lake",
    "season",
    "wanted_probability",
    "fish",
    "fish_mc_error",
    "kg",
    "kg_mc_error",
]


def scattered(low: float, high: float, seed: int) -> np.ndarray:
    """4,000 draws evenly spread from `low` to `high`, in random order."""
    grid = np.linspace(low, high, 4000)
    return np.random.default_rng(seed).permutation(grid).reshape(4, 1000)


def test_quantiles_by_hand() -> None:
    # 90 to 150 kg/ha, evenly: the 80 % point is 138, the 90 % point 144, the 95 % point 147. Over
    # 100 kg/ha that is 38, 44 and 47 kg/ha; on 10 ha 380, 440 and 470 kg; of 2 kg each 190, 220
    # and 235 fish.
    fit = fake_fit(
        {"biomass_after": scattered(90.0, 150.0, 1), "mean_weight_left": np.full((4, 1000), 2.0)}
    )
    removals = fit.removals()
    assert list(removals.columns) == COLUMNS
    assert removals["wanted_probability"].tolist() == [0.80, 0.90, 0.95]
    assert removals["kg"].tolist() == pytest.approx([380.0, 440.0, 470.0])
    assert removals["fish"].tolist() == pytest.approx([190.0, 220.0, 235.0])


def test_what_is_removed_brings_the_probability_that_was_wanted() -> None:
    weight = independent(seed=2, middle=2.0, spread=0.2)
    fish = independent(seed=3, middle=900.0, spread=100.0)
    fit = fake_fit({"biomass_after": fish * weight / 10.0, "mean_weight_left": weight})
    for _, row in fit.removals().iterrows():
        left = (fish - row["fish"]) * weight / 10.0
        assert (left < 100.0).mean() == pytest.approx(row["wanted_probability"], abs=1 / 4000)
        left_kg = fish * weight - row["kg"]
        assert (left_kg < 1000.0).mean() == pytest.approx(row["wanted_probability"], abs=1 / 4000)


def test_nets_that_take_larger_fish_need_fewer() -> None:
    """Removing x of N fish that weigh s times the lake's leaves B (1 − x/N)^s."""
    fish = independent(seed=3, middle=900.0, spread=60.0)
    selectivity = independent(seed=4, middle=1.2, spread=0.05)
    weight = np.full((4, 1000), 2.0)
    fit = fake_fit(
        {"biomass_after": fish * weight / 10.0, "mean_weight_left": weight,
         "net_selectivity": selectivity}
    )  # fmt: skip
    alike = fake_fit({"biomass_after": fish * weight / 10.0, "mean_weight_left": weight})
    for row, other in zip(fit.removals().itertuples(), alike.removals().itertuples(), strict=True):
        left = fish * weight / 10.0 * (1.0 - row.fish / fish) ** selectivity
        assert (left < 100.0).mean() == pytest.approx(row.wanted_probability, abs=1 / 4000)
        assert row.fish < other.fish
        assert row.kg == pytest.approx(other.kg)


def test_nothing_more_where_the_lake_is_below_already() -> None:
    fit = fake_fit(
        {"biomass_after": scattered(40.0, 99.0, 4), "mean_weight_left": np.full((4, 1000), 2.0)}
    )
    assert (fit.removals()[COLUMNS[3:]] == 0.0).all(axis=None)


def test_nothing_more_is_in_doubt_close_to_the_threshold() -> None:
    # The 80 % point is the threshold less a hundredth: below it in these draws, in others not.
    fit = fake_fit(
        {"biomass_after": scattered(20.0, 119.98, 8), "mean_weight_left": np.full((4, 1000), 2.0)}
    )
    row = fit.removals().iloc[0]
    assert row["kg"] == 0.0
    assert 0.0 < row["kg_mc_error"] < 10.0


def test_errors_are_those_of_quantiles() -> None:
    # sqrt(p (1 − p) / n) / f(q) for independent draws with the density f (the asymptotic variance
    # of a sample quantile, e.g. Serfling 1980, section 2.3.3; from memory).
    errors = []
    for seed in range(60):
        biomass = independent(seed=seed, middle=150.0, spread=20.0)
        fit = fake_fit({"biomass_after": biomass, "mean_weight_left": np.full((4, 1000), 2.0)})
        errors.append(fit.removals()[["fish_mc_error", "kg_mc_error"]].to_numpy())
    p = np.array([0.80, 0.90, 0.95])
    by_formula = np.sqrt(p * (1.0 - p) / 4000) / stats.norm.pdf(stats.norm.ppf(p)) * 20.0
    found = np.mean(errors, axis=0)
    # On 10 ha, and by fish of 2 kg. The effective sizes scatter, which makes errors 3 % too large
    # on average; the mean of 60 scatters by 2 % itself.
    assert found[:, 1] == pytest.approx(10.0 * by_formula, rel=0.09)
    assert found[:, 0] == pytest.approx(found[:, 1] / 2.0)


def test_partly_below_already() -> None:
    # 85 % of the draws are below: nothing for 80 %, something for 90 %.
    fit = fake_fit(
        {"biomass_after": scattered(15.0, 115.0, 5), "mean_weight_left": np.full((4, 1000), 2.0)}
    )
    # 90 % point 105, 95 % point 110 kg/ha
    assert fit.removals()["kg"].tolist() == pytest.approx([0.0, 50.0, 100.0], abs=1e-9)


def test_each_lake_has_its_own_area_and_threshold() -> None:
    draws = {
        "biomass_after": scattered(90.0, 150.0, 6),
        "mean_weight_left": np.full((4, 1000), 2.0),
    }
    removals = fake_fit(draws, lakes=(POND, ("Mere", 3.0, 120.0))).removals()
    assert removals["lake"].tolist() == ["Pond"] * 3 + ["Mere"] * 3
    assert removals["kg"].tolist()[3:] == pytest.approx([54.0, 72.0, 81.0])


def test_a_failed_gate_withholds() -> None:
    draws = {
        "biomass_after": scattered(90.0, 150.0, 7),
        "mean_weight_left": np.full((4, 1000), 2.0),
    }
    fit = fake_fit(draws, divergences=1)
    assert fit.removals()[COLUMNS[3:]].isna().all(axis=None)
    assert fit.removals(despite_gate=True)["kg"].tolist() == pytest.approx([380.0, 440.0, 470.0])


def test_empty_without_weights() -> None:
    removals = fake_fit({"abundance_after": independent(middle=500.0)}, weights=()).removals()
    assert list(removals.columns) == COLUMNS
    assert len(removals) == 0
