"""`marks_only` on two published mark–recapture examples, both lakes in one campaign.

The fish go back in both, so catches say nothing of abundance and only their marked share speaks.
Areas are invented; under the vague prior (close to 1/N) they matter little.
"""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest
from campaigns_by_lake import (
    assert_draws_have_quantile,
    by_lake,
    example_numbers,
    season_draws,
)
from field_records import daily_pulls, write_folder
from scipy import stats
from textbook import textbook

import fishdown
from fishdown.posterior.sampling import SamplerSettings

GORDY, TROUT = "Gordy Lake", "Trout lake"
AREAS = {GORDY: 11.5, TROUT: 20.0}
# The month is invented; the records of the example number the days only.
FIRST_DAY = dt.date(1950, 6, 1)


def marked_row(lake: str, date: dt.date, released: int) -> dict[str, object]:
    return {"date": date, "lake": lake, "batch": "b", "mark": "fin_clip", "released": released}


@pytest.fixture(scope="module")
def gerking() -> dict[str, list[int]]:
    """Gerking 1953, Trans. Am. Fish. Soc. 82:48–67: sunfish on 14 days (values from memory)."""
    return example_numbers("gerking1953")


@pytest.fixture(scope="module")
def campaign(gerking, tmp_path_factory):
    newly_marked = np.diff(gerking["M"])
    return fishdown.read(
        write_folder(
            tmp_path_factory.mktemp("marks"),
            species="fish",
            lakes=[{"lake": lake, "area_ha": area} for lake, area in AREAS.items()],
            marked=[
                *(
                    marked_row(GORDY, FIRST_DAY + dt.timedelta(days=day), int(released))
                    for day, released in enumerate(newly_marked)
                    if released
                ),
                marked_row(TROUT, FIRST_DAY, 109),
            ],
            pulls=[
                *daily_pulls(
                    GORDY,
                    gerking["C"],
                    start=FIRST_DAY.isoformat(),
                    recaptured=gerking["R"],
                    released_again=gerking["C"],
                ),
                *daily_pulls(TROUT, [177], start="1950-07-01", recaptured=57, released_again=177),
            ],
        )
    )


@pytest.fixture(scope="module")
def fit(campaign):
    return fishdown.fit(
        campaign, textbook("marks_only"), settings=SamplerSettings(draws=2000, seed=3)
    )


def enumerated(area: float, days) -> tuple[np.ndarray, np.ndarray]:
    """Return N and its posterior, by SciPy's hypergeometric distribution on whole numbers.

    `days` holds catch, recaptures and marks at large; no fish leaves the lake.
    """
    smallest = max(M + C - R for C, R, M in days)
    N = np.arange(smallest, 20_000)
    height = stats.lognorm(s=6.0, scale=1000.0 * area).logpdf(N)
    for C, R, M in days:
        height = height + stats.hypergeom.logpmf(R, N, M, C)
    probability = np.exp(height - height.max())
    return N, probability / probability.sum()


@pytest.fixture(scope="module")
def posteriors(gerking):
    days = list(zip(gerking["C"], gerking["R"], gerking["M"], strict=True))
    return {
        GORDY: enumerated(AREAS[GORDY], days),
        TROUT: enumerated(AREAS[TROUT], [(177, 57, 109)]),
    }


def test_marks_at_large_are_the_published_ones(campaign, gerking):
    at_large = campaign.season_pulls(0)["marks_at_large"].values
    assert at_large.tolist() == gerking["M"]
    assert campaign.seasons["gone"].values.tolist() == [0.0, 0.0]


@pytest.mark.parametrize("lake", [GORDY, TROUT])
def test_draws_are_the_enumerated_posterior(fit, posteriors, lake):
    assert fit.quality.passed
    N, probability = posteriors[lake]
    draws = season_draws(fit, lake)
    for share in (0.05, 0.5, 0.95):
        number = N[np.searchsorted(probability.cumsum(), share)]
        assert_draws_have_quantile(draws, number, share)
    assert draws.mean() == pytest.approx(N @ probability, rel=0.01)


def test_gerking_interval_holds_the_published_answers(fit):
    """Schnabel 447.5, Schumacher–Eschmeyer 423 with 95 % limits 300 and 719.

    The answers' own standard error is about a fifth, so that interval is held against interval:
    ours of 90 % contains both answers and lies inside theirs of 95 %.
    """
    N = by_lake(fit.estimates()).loc[GORDY]
    assert N["low"] < 423 < N["high"]
    assert N["low"] < 447.5 < N["high"]
    assert N["low"] > 300
    assert N["high"] < 719


def test_petersen_interval_holds_the_published_answer(fit):
    """Ricker 1975's trout: 109 marked, 57 of 177 caught carry marks; published 337.

    By Chapman 1951 336.6 with standard error 24.8, 7 %: too wide to ask for the mode, so the
    median must lie within half that standard error.
    """
    N = by_lake(fit.estimates()).loc[TROUT]
    assert N["low"] < 337 < N["high"]
    assert N["median"] == pytest.approx(337, abs=0.5 * 24.8)


def test_catches_alone_have_no_say(fit):
    assert "catchability_at_reference" not in fit.quantities
    assert set(fit.estimates()["quantity"]) >= {"abundance_before", "abundance_after"}
    before, after = fit.quantities["abundance_before"], fit.quantities["abundance_after"]
    assert np.array_equal(before.values, after.values)  # nothing was taken out
