"""`few_passes` on published removal passes and open data, all rows in one campaign.

Each row is a lake of 1 ha with one pull a day: seasons of `few_passes` share nothing, so that one
compilation serves. Published answers are compared with the fit in two ways. All must lie inside
the 90 % interval. Where the published standard error is below 6 % of N the likelihood dominates:
the posterior's mode lies within 1 fish or 1 %. The prior ~1/N and the average over catchability
(instead of its best value) move the mode by about −2 SE²/N, so that 6 % makes 0.7 %.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest
from campaigns_by_lake import (
    assert_draws_have_quantile,
    by_lake,
    campaign_of_passes,
    example_numbers,
    four_errors,
    mack_creek_catches,
    published_rows,
    season_draws,
)
from enumeration import exact_abundance
from passes_by_hand import passes_by_hand

import fishdown
from fishdown.posterior.sampling import SamplerSettings

OMAND = "Little Silver Lake, Omand 1951"
# The lake's area is not among the published numbers that we have; 20 ha is invented.
AREAS = {OMAND: 20.0}


@dataclass(frozen=True)
class Answer:
    """A published or reference answer: maximum-likelihood N, its standard error, p."""

    abundance: float
    error: float
    share: float | None


# Reference answers were computed with numpy from the catches: two passes by Seber & Le Cren 1967,
# N = c₁²/(c₁ − c₂) and its standard error, in single reaches N by search over whole numbers.
# Mack Creek: Gregory & Arismendi 2020 (CC0).
MACK_REACHES = {
    "1987 CC L": Answer(123, 2.33, 0.848),
    "1987 OG U": Answer(92, 5.92, 0.692),
    "1989 OG U": Answer(44, 2.52, 0.771),
    "1998 CC L": Answer(179, 2.97, 0.841),
    "2005 OG M": Answer(97, 2.16, 0.843),
    "2009 OG U": Answer(159, 2.52, 0.853),
    "2012 CC L": Answer(168, 9.52, 0.661),
    "2012 OG U": Answer(142, 7.57, 0.687),
    "2019 CC M": Answer(109, 5.28, 0.725),
}
MACK_YEARS = {
    "1987": Answer(643.56, 10.99, 0.749),
    "2000": Answer(701.57, 8.22, 0.798),
    "2012": Answer(831.31, 10.38, 0.777),
    "2019": Answer(508.22, 6.38, 0.811),
}
# Whole-number maximum likelihood of three passes; NEON DP1.20107.001, Li et al. 2022 (CC0).
NEON = {
    "MCRA 2018-10-01 04 Oncorhynchus clarki": Answer(86, 3.15, 0.631),
    "MCRA 2017-10-03 04 Oncorhynchus clarki": Answer(92, 16.56, 0.358),
    "TECR 2021-06-03 05 Salvelinus fontinalis": Answer(127, 6.20, 0.550),
    "TECR 2019-10-14 01 Salvelinus fontinalis": Answer(196, 36.60, 0.296),
    "WALK 2017-10-26 05 Rhinichthys atratulus": Answer(573, 4.50, 0.722),
    "WALK 2017-10-24 01 Rhinichthys atratulus": Answer(900, 7.68, 0.676),
    "LEWI 2021-04-12 01 Cottus girardi": Answer(473, 49.55, 0.316),
    "MCDI 2021-04-28 02 Etheostoma spectabile": Answer(397, 45.58, 0.315),
}
# Rainbow trout of Curtis and Qua Creeks 2015–2016, Nellestijn, Irvine et al. (CC0). The sources
# give no standard error except for QUA1 2016 (17.4), which is not needed here.
CURTIS_QUA = {
    "QUA2 2015-08-11": Answer(25, np.inf, 0.629),
    "QUA4 2015-08-10": Answer(21, np.inf, 0.588),
    "QUA1 2015-08-10": Answer(13, np.inf, None),
    "QUA1 2016-08-02": Answer(22, 17.4, 0.25),
}
# Values from memory; Zippin read N 400 and p 0.42 off a graph, whole-number maximum 394, SE 22.48.
TEXTBOOK = {
    "Seber & Le Cren 1967": Answer(122, 8.8, 0.65),
    "Zippin 1958": Answer(394, 22.48, 0.4261),
}
ANSWERS = {**TEXTBOOK, **MACK_REACHES, **MACK_YEARS, **NEON, **CURTIS_QUA}
DOMINATED = [lake for lake, answer in ANSWERS.items() if answer.error < 0.06 * answer.abundance]

RISING_CREEK = "QUA2 2016-08-02"
MARKED, UNMARKED = "Mack Creek, seen in an earlier year", "Mack Creek, new"


def rising_visits() -> dict[str, list[int]]:
    """Every tenth NEON stream row of 30 fish or more whose last catch is not below the first.

    Rows flagged "all even" (a possible doubling in the source) are left out.
    """
    found = {}
    for row in published_rows("neon_three_pass_counts.csv"):
        catches = [int(row[c]) for c in ("c1", "c2", "c3")]
        clean = row["water"] == "stream" and row["all_even_flag"] == "0"
        if clean and sum(catches) >= 30 and catches[2] >= catches[0]:
            found[" ".join(row[c] for c in ("site", "date", "reach", "taxon_name"))] = catches
    return dict(list(found.items())[::10])


def all_catches() -> dict[str, list[int]]:
    catches = {
        "Seber & Le Cren 1967": example_numbers("seber_lecren1967")["c"],
        "Zippin 1958": example_numbers("zippin1958")["c"],
        OMAND: example_numbers("omand1951")["c"],
    }
    mack = mack_creek_catches()
    catches |= {reach: list(mack[reach]) for reach in MACK_REACHES}
    for year in MACK_YEARS:
        of_year = [c for reach, c in mack.items() if reach.startswith(year)]
        catches[year] = np.sum(of_year, axis=0).tolist()
    for row in published_rows("neon_three_pass_counts.csv"):
        visit = " ".join(row[c] for c in ("site", "date", "reach", "taxon_name"))
        if visit in NEON:
            catches[visit] = [int(row[c]) for c in ("c1", "c2", "c3")]
    for row in published_rows("curtis_qua_creek_passes.csv"):
        visit = f"{row['site']} {row['date']}"
        if row["species"] == "rainbow trout" and visit in (*CURTIS_QUA, RISING_CREEK):
            catches[visit] = [int(row[c]) for c in ("c1", "c2", "c3") if row[c]]
    for lake, seen in ((MARKED, "1"), (UNMARKED, "0")):
        catches[lake] = [
            sum(
                int(row["trout_count"])
                for row in published_rows("and_mack_pit_pass_counts.csv")
                if (row["seen_in_earlier_year"], row["pass"]) == (seen, number)
            )
            for number in "12"
        ]
    return catches | rising_visits()


@pytest.fixture(scope="module")
def catches() -> dict[str, list[int]]:
    return all_catches()


@pytest.fixture(scope="module")
def fit(catches, tmp_path_factory):
    campaign = campaign_of_passes(tmp_path_factory.mktemp("passes"), catches, AREAS)
    return fishdown.fit(campaign, "few_passes", settings=SamplerSettings(draws=2000, seed=1))


@pytest.fixture(scope="module")
def estimates(fit):
    return fit.estimates()


def by_hand(catches, lake):
    return passes_by_hand(catches[lake], AREAS.get(lake, 1.0))


def test_campaign_is_whole(fit, catches):
    assert set(ANSWERS) <= set(catches)
    assert len(rising_visits()) == 8
    assert fit.quality.passed


@pytest.mark.parametrize("lake", ANSWERS)
def test_published_answer_lies_inside_the_interval(estimates, lake):
    answer = ANSWERS[lake]
    N = by_lake(estimates).loc[lake]
    assert N["low"] <= answer.abundance <= N["high"]
    if answer.share is not None:
        p = by_lake(estimates, "catchability_at_reference").loc[lake]
        assert p["low"] <= answer.share <= p["high"]


def test_zippins_graph_reading_lies_inside_the_interval(estimates):
    # Zippin 1958 reads N 400 and p 0.42 off a graph (values from memory).
    assert by_lake(estimates).loc["Zippin 1958", "low"] < 400
    assert by_lake(estimates).loc["Zippin 1958", "high"] > 400
    p = by_lake(estimates, "catchability_at_reference").loc["Zippin 1958"]
    assert p["low"] < 0.42 < p["high"]


@pytest.mark.parametrize("lake", DOMINATED)
def test_mode_is_the_published_answer_where_catches_say_all(catches, lake):
    """By enumeration, which the next test holds the draws against: a mode of draws is a blur."""
    published = ANSWERS[lake].abundance
    assert by_hand(catches, lake).mode == pytest.approx(published, abs=max(1.0, 0.01 * published))


@pytest.mark.parametrize("lake", all_catches())
def test_draws_have_the_enumerated_quantiles(fit, catches, lake):
    exact = by_hand(catches, lake)
    draws = season_draws(fit, lake)
    for share in (0.05, 0.5, 0.95):
        number = exact.quantile(share)
        # Between whole numbers the exact share jumps; the jump lies inside the one fish.
        assert_draws_have_quantile(draws, number, share)
    if sum(catches[lake]) < 40:
        return  # of so few fish, the half fish of the sampled scale moves catchability as well
    p = season_draws(fit, lake, "catchability_at_reference")
    for share in (0.05, 0.5, 0.95):
        at = exact.share_below(np.quantile(p, share))
        assert at == pytest.approx(share, abs=four_errors(share, p)), share


@pytest.mark.parametrize(
    "lake",
    [
        "Seber & Le Cren 1967",
        "Zippin 1958",
        "1998 CC L",
        "MCRA 2018-10-01 04 Oncorhynchus clarki",
        "TECR 2021-06-03 05 Salvelinus fontinalis",
        "WALK 2017-10-26 05 Rhinichthys atratulus",
    ],
)
def test_means_equal_enumeration(fit, estimates, catches, lake, tmp_path):
    """The sampled mean, fishdown's own enumeration, and the beta function say the same."""
    campaign = campaign_of_passes(tmp_path, {lake: catches[lake]})
    largest = 8 * sum(catches[lake])
    N, probability = exact_abundance(campaign, fit.spec, largest=largest, share_points=1000)
    exact = by_hand(catches, lake)
    assert exact.at_most(largest) > 0.9999  # the enumeration went far enough
    within = np.less_equal(exact.N, largest)
    assert 0.5 * np.abs(probability - exact.probability[within]).sum() < 1e-3
    draws = season_draws(fit, lake)
    error = 4.0 * draws.std() / np.sqrt(by_lake(estimates).loc[lake, "ess_bulk"])
    assert draws.mean() == pytest.approx(N @ probability, abs=max(error, 0.01 * exact.mean()))


def test_ten_days_of_traps_by_chance(estimates):
    """Omand 1951 (values from memory), smallmouth bass, a day a pull, computed answers.

    Leslie 1060.3, with half the day's catch 1077.6, whole-number maximum likelihood 1118.
    """
    N = by_lake(estimates).loc[OMAND]
    for answer in (1060.3, 1077.6, 1118.0):
        assert N["low"] <= answer <= N["high"]


def test_marked_trout_are_caught_like_the_others(fit, estimates, catches):
    """Two passes took 0.842 of the fish seen in an earlier year, 0.843 of the others (formula).

    PIT-tagged trout of Mack Creek 2008–2019 (CC0), all reaches and years thrown together.
    """
    assert (catches[MARKED], catches[UNMARKED]) == ([773, 122], [2420, 380])
    p = by_lake(estimates, "catchability_at_reference")
    assert p.loc[MARKED, "low"] < 0.842 < p.loc[MARKED, "high"]
    assert p.loc[UNMARKED, "low"] < 0.843 < p.loc[UNMARKED, "high"]
    marked, unmarked = (
        season_draws(fit, lake, "catchability_at_reference") for lake in (MARKED, UNMARKED)
    )
    low, high = np.quantile(marked - unmarked, (0.05, 0.95))
    assert low < 0.842 - 0.843 < high


@pytest.mark.parametrize("lake", [RISING_CREEK, *rising_visits()])
def test_catches_that_do_not_fall_give_no_false_precision(estimates, lake):
    """The likelihood has its maximum at no catchability and endless fish.

    The posterior's tail falls like N⁻²: beyond ten times its median lies a tenth of what lies
    beyond the median, that is the 95 % point. So the interval spans a factor of more than 10.
    Catchability lies at the prior's low end: of the uniform prior 5 % is below 0.05 and half above
    0.5.
    """
    N = by_lake(estimates).loc[lake]
    assert N["high"] > 10.0 * N["low"]
    p = by_lake(estimates, "catchability_at_reference").loc[lake]
    assert p["low"] < 0.05
    assert p["high"] < 0.5
