"""Ten days of traps by `one_lake`: catches that scatter more than chance widen the answer.

Omand 1951, J. Wildl. Manage. 15:88–98, smallmouth bass of Little Silver Lake (values from memory).
The lake's area is not among the numbers that we have: 20 ha is invented, and `one_lake` has priors
per hectare, so that the upper end of its interval leans on it.
"""

from __future__ import annotations

import numpy as np
import pytest
from campaigns_by_lake import by_lake, campaign_of_passes, example_numbers
from passes_by_hand import passes_by_hand
from scipy import stats

import fishdown
from fishdown.posterior.sampling import SamplerSettings

LAKE, AREA = "Little Silver Lake", 20.0
# Computed from the catches: Leslie, Leslie with half the day's catch, whole-number maximum
# likelihood with p 0.0958.
LESLIE, HALF_CATCH, LIKELY, SHARE = 1060.3, 1077.6, 1118, 0.0958


@pytest.fixture(scope="module")
def catches() -> list[int]:
    return example_numbers("omand1951")["c"]


@pytest.fixture(scope="module")
def fit(catches, tmp_path_factory):
    campaign = campaign_of_passes(tmp_path_factory.mktemp("omand"), {LAKE: catches}, {LAKE: AREA})
    return fishdown.fit(campaign, "one_lake", settings=SamplerSettings(draws=2000, seed=4))


@pytest.fixture(scope="module")
def pulls_alike(fit):
    """Fit without the doubt whether the first pull was the best: scatter is all that is asked."""
    model = fishdown.read_model("one_lake").with_parts(first_pulls="alike")
    settings = SamplerSettings(draws=2000, seed=4)
    return fishdown.fit(fit.campaign, model, settings=settings)


def scatter(catches) -> float:
    """Return the catches' variance as a multiple of what chance gives: chi-squared over df."""
    expected = LIKELY * SHARE * (1.0 - SHARE) ** np.arange(len(catches))
    test = stats.chisquare(catches, expected * sum(catches) / expected.sum(), ddof=1)
    assert test.statistic == pytest.approx(29.1, abs=0.05)  # of 8 degrees of freedom
    return float(test.statistic / 8)


def test_no_temperature_is_said_and_left_out(fit):
    assert fit.spec.part("temperature") == "none"
    assert fit.spec.part("catch") == "schooling"
    assert any("temperature" in note for note in fit.run["notes"])


def test_interval_holds_the_classical_estimators(fit):
    assert fit.quality.passed
    N = by_lake(fit.estimates()).loc[LAKE]
    for answer in (LESLIE, HALF_CATCH, LIKELY):
        assert N["low"] < answer < N["high"]


def test_scatter_widens_the_interval(pulls_alike, catches):
    """Chi-squared 29.1 on 8 degrees of freedom: the variance is 3.6 times that of chance.

    The usual correction widens a standard error by the root of that, 1.9. One that learns the
    scatter from ten catches must widen at least as much. Plain chance: 1,003 to 1,321 fish.
    """
    by_chance = passes_by_hand(catches, AREA)
    N = by_lake(pulls_alike.estimates()).loc[LAKE]
    chance_width = by_chance.quantile(0.95) - by_chance.quantile(0.05)
    assert N["high"] - N["low"] > np.sqrt(scatter(catches)) * chance_width
    assert N["low"] < by_chance.quantile(0.05)
    assert N["high"] > by_chance.quantile(0.95)


def test_a_first_pull_that_may_be_the_best_leaves_room_for_more_fish(fit, pulls_alike):
    """131 bass on the first day, 69 on the second: a fall that need not be depletion."""
    with_doubt, without = (by_lake(one.estimates()).loc[LAKE] for one in (fit, pulls_alike))
    assert with_doubt["median"] > 1.1 * without["median"]
    assert with_doubt["high"] > without["high"]
