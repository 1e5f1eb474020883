"""Verdicts: the probability and its error, the columns, and what is withheld."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from fake_fits import POND, fake_fit, independent
from scipy import signal, stats

from fishdown.statements.probability import probability_below

# the contract of verdicts.csv
COLUMNS = [
    "lake",
    "season",
    "when",
    "area_ha",
    "threshold_kg_per_ha",
    "biomass_median_kg_per_ha",
    "biomass_low_kg_per_ha",
    "biomass_high_kg_per_ha",
    "probability_below",
    "mc_error",
    "words",
    "gate",
    "statement",
    "caution",
    "effective_marks_low",
    "effective_marks_median",
    "effective_marks_high",
    "share_from_marks",
    "share_from_weights",
    "share_from_counts",
    "probability_if_every_mark_counts",
    "flips_at_effective_marks",
    "flip_prior_probability",
    "next_measurement",
    "background",
]
NUMBERS = COLUMNS[5:10]


def weighed(before: float = 150.0, after: float = 96.0) -> dict[str, np.ndarray]:
    """Biomass before and after netting with a spread of 5 kg/ha, and the rest."""
    return {
        "abundance_before": independent(seed=2, middle=750.0, spread=25.0),
        "abundance_after": independent(seed=3, middle=480.0, spread=25.0),
        "mean_weight": independent(seed=4, middle=2.0, spread=0.01),
        "biomass_before": independent(seed=5, middle=before, spread=5.0),
        "biomass_after": independent(seed=6, middle=after, spread=5.0),
    }


@pytest.mark.parametrize("z", [-2.3, -1.0, 0.0, 0.4, 1.6, 2.5])
def test_probability_of_normal_draws(z: float) -> None:
    """Φ is the normal distribution of SciPy, a reference of its own."""
    probability, error = probability_below(independent(seed=7, middle=80.0, spread=4.0), 80 + 4 * z)
    assert abs(probability - stats.norm.cdf(z)) < 4.0 * error
    plain = np.sqrt(stats.norm.cdf(z) * stats.norm.sf(z) / 4000)
    assert error == pytest.approx(plain, rel=0.25)


@pytest.mark.parametrize(("correlation", "threshold"), [(0.0, 0.7), (0.8, 0.7), (0.95, 1.6)])
def test_error_is_as_large_as_the_scatter_of_repeated_runs(
    correlation: float, threshold: float
) -> None:
    """An autoregressive chain of known stationary distribution, run 300 times.

    Far out, whether a draw is below changes faster than the draw itself: the error must come from
    the former, or it would be half as large again as the scatter.
    """
    rng = np.random.default_rng(8)
    truth = stats.norm.cdf(threshold)
    misses = []
    for _ in range(300):
        steps = np.sqrt(1.0 - correlation**2) * rng.normal(size=(4, 2000))
        steps[:, 0] = rng.normal(size=4)
        draws = signal.lfilter([1.0], [1.0, -correlation], steps)
        probability, error = probability_below(draws, threshold)
        misses.append((probability - truth) / error)
    # The standard deviation of 300 standard normal numbers lies within 4/√600 of 1; the effective
    # sample size is itself estimated, so a little more is allowed.
    assert np.std(misses) == pytest.approx(1.0, abs=0.2)


@pytest.mark.parametrize("threshold", [-50.0, 50.0])
def test_draws_all_on_one_side_are_neither_0_nor_1(threshold: float) -> None:
    probability, error = probability_below(independent(), threshold)
    assert 0.0 < probability < 1.0
    assert min(probability, 1.0 - probability) == pytest.approx(0.5 / 4001)
    assert 0.0 < error < 0.001


def test_columns_and_rows() -> None:
    verdicts = fake_fit(weighed(), lakes=(POND, ("Mere", 3.0, 80.0))).verdicts()
    assert list(verdicts.columns) == COLUMNS
    assert verdicts[["lake", "season", "when"]].values.tolist() == [
        ["Pond", "2024", "before"],
        ["Pond", "2024", "after"],
        ["Mere", "2024", "before"],
        ["Mere", "2024", "after"],
    ]
    assert verdicts["area_ha"].tolist() == [10.0, 10.0, 3.0, 3.0]
    assert verdicts["threshold_kg_per_ha"].tolist() == [100.0, 100.0, 80.0, 80.0]
    assert (verdicts["gate"] == "passed").all()


def test_numbers_and_statement() -> None:
    quantities = weighed()
    after = fake_fit(quantities).verdicts().iloc[1]
    draws = np.sort(quantities["biomass_after"].ravel())
    assert after["biomass_median_kg_per_ha"] == pytest.approx(np.median(draws))
    # Of 4,000 draws, 5 % are 200: the limits lie between two neighbours.
    assert draws[199] <= after["biomass_low_kg_per_ha"] <= draws[200]
    assert draws[3799] <= after["biomass_high_kg_per_ha"] <= draws[3800]
    below = (draws < 100.0).sum()
    assert after["probability_below"] == pytest.approx((below + 0.5) / 4001)
    assert after["words"] == "likely"  # Φ(0.8) = 79 %
    assert after["statement"] == (
        f"After netting, Pond in 2024 held {np.median(draws):.1f} kg/ha of common carp (90 % "
        f"interval {after['biomass_low_kg_per_ha']:.1f} to {after['biomass_high_kg_per_ha']:.0f}); "
        f"it is likely ({100 * after['probability_below']:.0f} %) that this is below the threshold "
        "of 100 kg/ha."
    )


def test_certainty_is_not_overstated() -> None:
    before, after = (row for _, row in fake_fit(weighed(400.0, 10.0)).verdicts().iterrows())
    assert "exceptionally unlikely (less than 1 %)" in before["statement"]
    assert "virtually certain (more than 99 %)" in after["statement"]
    assert 0.0 < before["probability_below"] < after["probability_below"] < 1.0


def test_a_failed_gate_withholds_numbers_and_says_why() -> None:
    verdicts = fake_fit(weighed(), divergences=2).verdicts()
    assert verdicts[NUMBERS].isna().all(axis=None)
    assert verdicts["words"].isna().all()
    assert (verdicts["gate"] == "2 divergent transitions").all()
    for statement in verdicts["statement"]:
        assert statement == "Withheld for Pond in 2024: 2 divergent transitions."


def test_despite_the_gate_the_statement_opens_with_a_warning() -> None:
    fit = fake_fit(weighed(), divergences=2)
    verdicts = fit.verdicts(despite_gate=True)
    assert verdicts[NUMBERS].notna().all(axis=None)
    assert (verdicts["gate"] == "2 divergent transitions").all()
    for statement in verdicts["statement"]:
        assert statement.startswith("WARNING")
        assert "2 divergent transitions" in statement
        assert "netting, Pond in 2024 held" in statement


def test_only_the_season_that_fails_is_withheld() -> None:
    quantities = weighed()
    drifting = np.repeat(quantities["biomass_after"][:, :, np.newaxis], 2, axis=2)
    drifting[0, :, 1] += 20.0  # one chain of the second lake went elsewhere
    fit = fake_fit({**quantities, "biomass_after": drifting}, lakes=(POND, ("Mere", 3.0, 80.0)))
    verdicts = fit.verdicts()
    assert verdicts["probability_below"].isna().tolist() == [False, False, True, True]
    assert verdicts["gate"].iloc[2].startswith("R-hat of biomass_after is ")
    assert not fit.passed


def test_without_weights_the_verdict_speaks_of_fish() -> None:
    fish = {name: draws for name, draws in weighed().items() if name.startswith("abundance")}
    verdicts = fake_fit(fish, weights=()).verdicts()
    assert verdicts[NUMBERS].isna().all(axis=None)
    assert (verdicts["gate"] == "passed").all()
    statement = verdicts["statement"].iloc[1]
    assert statement.startswith("After netting, Pond in 2024 held 48")
    assert "no fish was weighed" in statement
    assert "kg/ha of" not in statement


def test_a_model_without_weights_does_not_claim_that_nothing_was_weighed() -> None:
    fish = {name: draws for name, draws in weighed().items() if name.startswith("abundance")}
    statement = fake_fit(fish, weights=(2.0, 2.1)).verdicts()["statement"].iloc[1]
    assert "the model does not use weights" in statement
    assert "no fish was weighed" not in statement


def test_names_survive_csv(tmp_path) -> None:
    name = '[bold]Mere, "the deep", <b>[red]x'
    path = tmp_path / "verdicts.csv"
    fake_fit(weighed(), lakes=((name, 3.0, 80.0),)).verdicts().to_csv(path, index=False)
    again = pd.read_csv(path)
    assert (again["lake"] == name).all()
    assert again["statement"].str.contains(name, regex=False).all()
