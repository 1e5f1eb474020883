"""Share of the posterior determined by the prior: against the conjugate case."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import xarray as xr
from fake_fits import fake_fit, independent
from scipy import stats
from scipy.special import expit, logit

import fishdown
from fishdown.models.priors import Prior
from fishdown.statements.prior_parts import prior_part
from fishdown.words import part_words


def beta_draws(a: float, b: float, seed: int = 3) -> np.ndarray:
    return stats.beta(a, b).rvs((4, 5_000), random_state=seed)


def test_part_is_the_priors_weight_in_the_normal_case() -> None:
    """Prior N(0, 2²), five readings of sd 3: weight (1/4)/(1/4 + 5/9), posterior N(., 36/29)."""
    draws = independent((4, 5_000), middle=1.7, spread=np.sqrt(36.0 / 29.0))
    part, error = prior_part(Prior("normal", (0.0, 2.0)), draws)
    assert part == pytest.approx((1 / 4) / (1 / 4 + 5 / 9), abs=4 * error)
    assert 0.001 < error < 0.01
    moved, _ = prior_part(Prior("lognormal", (1.0, 2.0)), np.exp(draws))
    assert moved == pytest.approx(part)


def test_shares_on_the_logit_scale() -> None:
    prior = Prior("beta", (8.0, 2.0))
    untouched, _ = prior_part(prior, beta_draws(8.0, 2.0))
    assert untouched == pytest.approx(1.0, abs=0.03)
    known, error = prior_part(prior, beta_draws(800.0, 200.0))

    def spread(a: float, b: float) -> float:
        shares = stats.beta(a, b)
        middle = shares.expect(logit)
        return float(shares.expect(lambda share: (logit(share) - middle) ** 2))

    assert known == pytest.approx(spread(800.0, 200.0) / spread(8.0, 2.0), abs=4 * error)
    assert error < 0.02 * known
    wider, _ = prior_part(prior, beta_draws(1.0, 1.0))
    assert wider == 1.0


def test_shares_whose_logit_is_normal() -> None:
    logits = independent((4, 5_000), middle=3.0, spread=0.5)
    part, error = prior_part(Prior("logitnormal", (0.99, 2.0)), expit(logits))
    assert part == pytest.approx(0.25**2, abs=4 * error)


@pytest.mark.parametrize(
    ("part", "words"),
    [
        (0.01, "hardly any"),
        (0.12, "about a tenth"),
        (0.3, "about a third"),
        (0.65, "about two thirds"),
        (0.93, "about nine tenths"),
        (0.99, "nearly all"),
    ],
)
def test_words(part: float, words: str) -> None:
    assert part_words(part) == words


def said(draws: np.ndarray) -> str:
    made = fake_fit({"abundance_before": 500.0 + independent((4, 5_000))})
    quantities = made.quantities.assign(vulnerable=(("chain", "draw"), draws))
    tree = made.tree.copy()
    tree["quantities"] = xr.DataTree(quantities)
    spec = fishdown.read_model("hidden_fish")
    spec = replace(spec, priors={**spec.priors, "vulnerable": Prior("beta", (8.0, 2.0))})
    fit = replace(made, spec=spec, tree=tree)
    found = fit.prior_parts()
    assert found["quantity"].tolist() == ["vulnerable"]
    return str(found["statement"].item())


def test_statement_on_the_proportion_vulnerable() -> None:
    start = "Proportion of the fish vulnerable to the gear: "
    told = said(beta_draws(10.7, 2.8))
    assert told.startswith(
        start + "the prior determines about two thirds of the posterior variance; the comparison"
    )
    nothing = said(beta_draws(8.0, 2.0))
    assert nothing == start + (
        "the prior determines nearly all of the posterior variance; mark–recapture and depletion "
        "hold next to no information on it."
    )
    far = said(beta_draws(30.0, 70.0))
    assert "the posterior median lies outside the prior's 90 % interval" in far
