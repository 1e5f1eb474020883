"""All 197 complete two-pass reach-years of Mack Creek in one fit of `few_passes`.

Cutthroat trout, Gregory & Arismendi 2020 (CC0), see `tests/published/SOURCES.md`; each reach-year
is a lake of 1 ha. Reference: two-pass formulas of Seber & Le Cren 1967, N = c₁²/(c₁ − c₂) and
p = 1 − c₂/c₁, whose quantiles over the reaches were computed with numpy.
"""

from __future__ import annotations

import numpy as np
import pytest
from campaigns_by_lake import (
    assert_draws_have_quantile,
    by_lake,
    campaign_of_passes,
    mack_creek_catches,
    season_draws,
)
from passes_by_hand import passes_by_hand

import fishdown
from fishdown.posterior.sampling import SamplerSettings

# Quantiles 5, 25, 50, 75 and 95 % of p over the reaches.
SHARES = (0.05, 0.25, 0.5, 0.75, 0.95)
REFERENCE = (0.599, 0.732, 0.793, 0.845, 0.894)


@pytest.fixture(scope="module")
def catches() -> dict[str, tuple[int, int]]:
    return mack_creek_catches()


@pytest.fixture(scope="module")
def fit(catches, tmp_path_factory):
    campaign = campaign_of_passes(tmp_path_factory.mktemp("mack"), catches)
    settings = SamplerSettings(draws=1000, tune=500, seed=2)
    return fishdown.fit(campaign, "few_passes", settings=settings)


@pytest.fixture(scope="module")
def estimates(fit):
    return fit.estimates()


def test_all_reaches_converge(fit, catches):
    assert len(catches) == 197
    assert fit.quality.passed


def test_every_posterior_is_the_enumerated_one(fit, catches):
    for reach, passes in catches.items():
        exact = passes_by_hand(passes)
        draws = season_draws(fit, reach)
        for share in (0.05, 0.5, 0.95):
            assert_draws_have_quantile(draws, exact.quantile(share), share)


def test_median_abundances_beside_the_formula(estimates, catches):
    """Within 5 %, as enumeration has it in 196 of 197 reaches.

    The farthest is 10 % off (20 and 12 trout), the next 4.8 % (21 and 7 trout: 33 fish by
    enumeration, 31.5 by formula), where the half fish of the sampled scale decides; the others
    keep below 4 %.
    """
    medians = by_lake(estimates)["median"]
    formula = {reach: c1**2 / (c1 - c2) for reach, (c1, c2) in catches.items()}
    by_hand = {reach: passes_by_hand(catches[reach]).quantile(0.5) for reach in catches}
    assert sum(abs(by_hand[reach] / formula[reach] - 1.0) < 0.05 for reach in catches) == 196
    assert sum(abs(medians[reach] / formula[reach] - 1.0) < 0.05 for reach in catches) >= 195


def test_catchabilities_beside_the_formula(estimates, catches):
    """The formula's p lies inside every interval, within half a posterior sd of the median.

    The uniform prior and the skew of p pull the median below the most likely value; that pull must
    stay small beside what the reach's own catches leave open.
    """
    p = by_lake(estimates, "catchability_at_reference")
    formula = np.array([1.0 - c2 / c1 for c1, c2 in catches.values()])
    p = p.loc[list(catches)]
    assert np.quantile(formula, SHARES) == pytest.approx(REFERENCE, abs=0.001)
    assert np.all((p["low"] <= formula) & (formula <= p["high"]))
    assert np.all(np.abs(p["median"] - formula) < 0.5 * p["sd"])
    # Pulled alike, the quantiles over the reaches keep within half a typical sd as well.
    quantiles = np.quantile(p["median"], SHARES)
    assert quantiles == pytest.approx(REFERENCE, abs=0.5 * p["sd"].median())
