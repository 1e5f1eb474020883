"""Records against prior: sums against the graph and SciPy, weights against a closed form."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from drawn_fits import drawn_fit, records
from scipy import stats
from scipy.special import logit

import fishdown
from fishdown import Fit
from fishdown.checks.sensitivity import (
    _half_prior_weights,
    _probability,
    _said,
    records_or_prior,
)
from fishdown.models.data import model_data
from fishdown.posterior.at_draws import thinned
from fishdown.posterior.log_priors import log_priors
from fishdown.posterior.prior_share import rests_on
from fishdown.worlds import LakeTruth, World, simulate

AREA = (25.0, 80.0)


@pytest.fixture(scope="module")
def fit() -> Fit:
    world = World(
        (LakeTruth("Alder", AREA[0], 1_500), LakeTruth("Birch", AREA[1], 4_000)),
        rounds=4,
        marked=90,
        marks_lost=0.2,
    )
    campaign, _ = simulate(world, np.random.default_rng(6))
    settings = fishdown.SamplerSettings(draws=250, tune=250, chains=2, seed=3)
    return fishdown.fit(campaign, "lost_marks", settings=settings, compare_evidence=False)


def test_priors_are_scipys(fit: Fit) -> None:
    few = thinned(fit.tree["posterior"].to_dataset(), 20)
    found = log_priors(few, fit.spec, model_data(fit.campaign, fit.spec))
    assert set(found) == set(fit.spec.priors)
    density = np.log(few["abundance"].values / AREA)
    median, log_sd = fit.spec.priors["density"].numbers
    np.testing.assert_allclose(
        found["density"], stats.norm.logpdf(density, np.log(median), log_sd).sum(axis=1)
    )
    middle, spread = fit.spec.priors["mark_retention"].numbers
    kept = logit(few["mark_retention"].values)
    np.testing.assert_allclose(
        found["mark_retention"], stats.norm.logpdf(kept, logit(middle), spread)
    )


def test_half_a_prior_in_closed_form() -> None:
    # Prior N(0, 1), records N(1, 1): posterior N(1/2, 1/2); with half the prior N(2/3, 2/3).
    rng = np.random.default_rng(4)
    draws = rng.normal(0.5, np.sqrt(0.5), 400_000)
    weight = _half_prior_weights({"only": stats.norm.logpdf(draws)})
    found = _probability(draws < 0.0, weight)
    assert found == pytest.approx(stats.norm.cdf(-2 / 3, scale=np.sqrt(2 / 3)), abs=0.003)


def test_weights_that_rest_on_few_draws_say_nothing() -> None:
    weight = np.zeros(1_000)
    weight[:20] = 1.0
    assert np.isnan(_probability(np.ones(1_000, dtype=bool), weight))
    everywhere = _probability(np.ones(1_000, dtype=bool), np.ones(1_000))
    assert everywhere == pytest.approx(1_000.5 / 1_001.0)


def test_what_the_gate_withholds_is_not_told_here(fit: Fit) -> None:
    assert not fit.passed  # 500 draws are too few for it
    result = records_or_prior(fit)
    assert result.table["probability_below"].isna().all()
    assert "P(below)" not in result.sentence


def test_every_quantity_is_placed(fit: Fit, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(Fit, "failure", lambda fit, season: "")
    result = records_or_prior(fit)
    assert result.outcome == "for information"
    table = result.table.set_index(["quantity", "lake"])
    assert set(result.table["quantity"]) == set(fit.quantities.data_vars)
    # A fifth of 90 marks lost, and few catches: the prior has much to say of it.
    assert table.loc[("mark_retention", ""), "rests_on"] != "data"
    assert table.loc[("mean_weight", "Alder"), "rests_on"] == "data"
    assert table.loc[("mark_retention", ""), "most"] == "mark_retention"
    stated = fit.verdicts().query("when == 'after'")["probability_below"]
    below = table.loc["biomass_after", ["probability_below", "probability_below_half_prior"]]
    np.testing.assert_allclose(below["probability_below"], stated)
    # Half the prior may reach beyond the draws; then nothing is said of it.
    half = below["probability_below_half_prior"].dropna()
    assert ((half > 0.0) & (half < 1.0)).all()
    assert ("half as strong" in result.sentence) == bool(len(half))


def test_the_seasons_of_a_lake_do_not_count_its_priors_twice(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    years = drawn_fit(records(tmp_path / "r", seasons=(2023, 2024)), "many_years")
    taken = []

    def share(values: np.ndarray, priors: dict[str, np.ndarray]) -> tuple[float, float, str]:
        if np.array_equal(values, np.log(years.quantities["clumping"].values)):
            taken.append(priors)
        return 0.5, 0.01, "density"

    monkeypatch.setattr("fishdown.posterior.prior_share._share_and_most", share)
    years.prior_shares()
    few = thinned(years.tree["posterior"].to_dataset(), 10**6)
    known = log_priors(few, years.spec, years.data)
    (priors,) = taken
    assert set(priors) == set(known) > {"density", "schooling", "area_fished_ha"}
    for name, values in known.items():
        np.testing.assert_allclose(priors[name], values, err_msg=name)


def test_the_prior_that_determines_most_is_named_in_words() -> None:
    row = {"lake": "Alder", "season": "2024", "quantity": "biomass_after", "prior_share": 0.6,
           "mc_error": 0.02, "most": "area_fished_ha", "rests_on": "data and prior",
           "probability_below_half_prior": np.nan}  # fmt: skip
    said = str(_said(pd.DataFrame([row])))
    assert "mostly that of the effective area fished per pull" in said
    assert said.endswith("[ha]")
    assert "mostly" not in str(_said(pd.DataFrame([{**row, "rests_on": "data"}])))


def test_what_a_quantity_rests_on() -> None:
    assert rests_on(0.1) == "data"
    assert rests_on(0.5) == "data and prior"
    assert rests_on(0.9) == "prior"


def test_figures_are_drawn_when_asked_for(fit: Fit) -> None:
    for result in fit.checks():
        figure = result.figure()
        assert figure.axes[0].get_title(loc="left").lower() == result.name
