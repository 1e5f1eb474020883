"""Removal passes against published examples, open data and direct maximisation."""

from __future__ import annotations

import csv
from math import inf
from pathlib import Path

import numpy as np
import pytest
from scipy import optimize, stats
from scipy.special import gammaln, xlog1py, xlogy

from fishdown.errors import DesignError
from fishdown.formulas import k_passes, three_passes, two_passes, weighted_passes

PUBLISHED = Path(__file__).parents[1] / "published"


def rows(name: str) -> list[dict[str, str]]:
    with (PUBLISHED / name).open(newline="") as file:
        return list(csv.DictReader(file))


def log_likelihoods(catches: np.ndarray, times: int = 50) -> np.ndarray:
    """Multinomial log-likelihood at the best p for each whole N from T to `times` T."""
    k, T = catches.size, int(catches.sum())
    X = int(((k - 1 - np.arange(k)) * catches).sum())
    N = np.arange(T, times * T + 1)
    chances = k * N - X
    return (
        gammaln(N + 1)
        - gammaln(N - T + 1)
        + xlogy(T, T / chances)
        + xlog1py(chances - T, -T / chances)
    )


@pytest.fixture(scope="module")
def mack() -> dict[tuple[str, str, str], tuple[int, int]]:
    """Cutthroat trout of Mack Creek, by year, section and reach (SOURCES.md)."""
    counts: dict[tuple[str, str, str], dict[str, str]] = {}
    for row in rows("and_mack_cutthroat_pass_counts.csv"):
        key = (row["year"], row["section"], row["reach"])
        counts.setdefault(key, {})[row["pass"]] = row["trout_count"]
    return {key: (int(c["1"]), int(c["2"])) for key, c in counts.items() if c["2"]}


@pytest.fixture(scope="module")
def neon() -> list[np.ndarray]:
    """Three-pass counts of NEON stream reaches with 30 or more fish (SOURCES.md)."""
    streams = [row for row in rows("neon_three_pass_counts.csv") if row["water"] == "stream"]
    counts = [np.array([int(row[c]) for c in ("c1", "c2", "c3")]) for row in streams]
    return [c for c in counts if c.sum() >= 30]


# Computed with numpy from the counts by Seber & Le Cren 1967, and by search over whole N.
@pytest.mark.parametrize(
    ("reach", "N", "p", "error", "whole"),
    [
        ("1987 CC L", 123.88, 0.848, 2.33, 123),
        ("1987 OG U", 93.89, 0.692, 5.92, 92),
        ("1989 OG U", 45.37, 0.771, 2.52, 44),
        ("1998 CC L", 179.54, 0.841, 2.97, 179),
        ("2005 OG M", 98.41, 0.843, 2.16, 97),
        ("2009 OG U", 159.45, 0.853, 2.52, 159),
        ("2012 CC L", 169.51, 0.661, 9.52, 168),
        ("2012 OG U", 144.13, 0.687, 7.57, 142),
        ("2019 CC M", 110.34, 0.725, 5.28, 109),
    ],
)
def test_mack_creek_reaches(mack, reach, N, p, error, whole):
    catches = mack[tuple(reach.split())]
    estimate = two_passes(catches)
    assert estimate.abundance == pytest.approx(N, abs=0.005)
    assert estimate.catchability == pytest.approx(p, abs=0.0005)
    assert estimate.standard_error == pytest.approx(error, abs=0.005)
    assert k_passes(catches).abundance == whole


@pytest.mark.parametrize(
    ("year", "N", "p", "error"),
    [
        ("1987", 643.56, 0.749, 10.99),
        ("2000", 701.57, 0.798, 8.22),
        ("2012", 831.31, 0.777, 10.38),
        ("2019", 508.22, 0.811, 6.38),
    ],
)
def test_mack_creek_years(mack, year, N, p, error):
    catches = np.sum([c for key, c in mack.items() if key[0] == year], axis=0)
    estimate = two_passes(catches)
    assert estimate.abundance == pytest.approx(N, abs=0.005)
    assert estimate.catchability == pytest.approx(p, abs=0.0005)
    assert estimate.standard_error == pytest.approx(error, abs=0.005)


def test_no_mack_creek_reach_is_refused(mack):
    capture = [two_passes(catches).catchability for catches in mack.values()]
    assert len(capture) == 197
    quantiles = np.quantile(capture, [0.05, 0.25, 0.5, 0.75, 0.95])
    assert quantiles == pytest.approx([0.599, 0.732, 0.793, 0.845, 0.894], abs=0.001)


# Computed with numpy from the counts; visits are named in neon_three_pass_counts.csv.
@pytest.mark.parametrize(
    ("visit", "whole", "p", "error", "closed", "weighted"),
    [
        ("MCRA 2018-10-01 04 Oncorhynchus clarki", 86, 0.631, 3.15, 86.77, 86),
        ("MCRA 2017-10-03 04 Oncorhynchus clarki", 92, 0.358, 16.56, 96.33, 89),
        ("TECR 2021-06-03 05 Salvelinus fontinalis", 127, 0.550, 6.20, 129.02, 127),
        ("TECR 2019-10-14 01 Salvelinus fontinalis", 196, 0.296, 36.60, 202.19, 189),
        ("WALK 2017-10-26 05 Rhinichthys atratulus", 573, 0.722, 4.50, 573.51, 573),
        ("WALK 2017-10-24 01 Rhinichthys atratulus", 900, 0.676, 7.68, 901.19, 900),
        ("LEWI 2021-04-12 01 Cottus girardi", 473, 0.316, 49.55, 479.11, 468),
        ("MCDI 2021-04-28 02 Etheostoma spectabile", 397, 0.315, 45.58, 403.16, 392),
    ],
)
def test_neon_visits(visit, whole, p, error, closed, weighted):
    columns = ("site", "date", "reach", "taxon_name")
    (row,) = (
        row
        for row in rows("neon_three_pass_counts.csv")
        if " ".join(row[column] for column in columns).startswith(visit)
    )
    catches = [int(row[c]) for c in ("c1", "c2", "c3")]
    likely = k_passes(catches)
    assert likely.abundance == whole
    assert likely.catchability == pytest.approx(p, abs=0.0005)
    assert likely.standard_error == pytest.approx(error, abs=0.005)
    assert three_passes(catches).abundance == pytest.approx(closed, abs=0.005)
    assert weighted_passes(catches).abundance == weighted


def test_neon_where_removal_fails(neon):
    """Of 485 stream rows the likelihood is endless in 67: it still rises at 50 times the catch.

    In 8 more the third catch is not below the first, and only the rounding to whole fish makes
    the maximum finite; all 75 are refused.
    """
    assert len(neon) == 485
    endless, refused, capture = [], [], []
    for catches in neon:
        heights = log_likelihoods(catches)
        N = int(heights.argmax() + catches.sum())
        endless.append(bool(heights.argmax() == heights.size - 1))
        refused.append(bool(catches[2] >= catches[0]))
        if refused[-1]:
            with pytest.raises(DesignError, match="catches do not decline"):
                k_passes(catches)
        else:
            assert k_passes(catches, interval="normal").abundance == N
        if not endless[-1]:
            capture.append(catches.sum() / (3 * N - 2 * catches[0] - catches[1]))
    assert sum(endless) == 67
    assert sum(refused) == 75
    assert not np.any(np.greater(endless, refused))
    quantiles = np.quantile(capture, [0.1, 0.25, 0.5, 0.75, 0.9])
    assert quantiles == pytest.approx([0.16, 0.30, 0.42, 0.55, 0.69], abs=0.005)


def test_seber_le_cren_79_28():
    # Seber & Le Cren 1967 (values from memory): N 122, p 0.65, SE about 8.8.
    estimate = two_passes([79, 28])
    assert estimate.abundance == pytest.approx(122.37, abs=0.005)
    assert estimate.catchability == pytest.approx(0.6456, abs=0.00005)
    assert estimate.standard_error == pytest.approx(8.797, abs=0.0005)
    assert k_passes([79, 28]).abundance == 120


def test_zippin_165_101_54():
    # Zippin 1958 (values from memory) reads N 400 and p 0.42 off a graph; the rest is computed.
    likely = k_passes([165, 101, 54])
    assert likely.abundance == 394
    assert likely.abundance == pytest.approx(400, rel=0.02)
    assert likely.catchability == pytest.approx(0.4261, abs=0.00005)
    assert likely.standard_error == pytest.approx(22.48, abs=0.005)
    assert three_passes([165, 101, 54]).abundance == pytest.approx(397.27, abs=0.005)
    assert weighted_passes([165, 101, 54]).abundance == 393


@pytest.mark.parametrize(
    ("catches", "N", "p"),
    # Rainbow trout of Curtis and Qua Creeks 2015–2016, Nellestijn, Irvine et al. (CC0); N is
    # computed by search over whole numbers.
    [
        ([15, 7], 25, 0.629),
        ([12, 5, 3], 21, 0.588),
        ([7, 6, 0], 13, None),
        ([6, 2, 5], 22, 0.25),
    ],
)
def test_small_catches(catches, N, p):
    estimate = k_passes(catches)
    assert estimate.abundance == N
    if p is not None:
        assert estimate.catchability == pytest.approx(p, abs=0.0005)


def test_omand_days():
    # Omand 1951 (values from memory): whole-number maximum 1118, p 0.0958, computed.
    estimate = k_passes([131, 69, 99, 78, 56, 76, 49, 42, 63, 47])
    assert estimate.abundance == 1118
    assert estimate.catchability == pytest.approx(0.0958, abs=0.00005)
    # The catches of days scatter far more than chance alone: chi-squared is computed by scipy.
    N, p = 1118, estimate.catchability
    expected = N * p * (1 - p) ** np.arange(10)
    observed = np.array([131, 69, 99, 78, 56, 76, 49, 42, 63, 47])
    scaled = expected * observed.sum() / expected.sum()
    test = stats.chisquare(observed, scaled, ddof=1)
    assert f"chi-squared {test.statistic:.1f}, 8 df" in estimate.note


@pytest.mark.parametrize("catches", [[79, 28], [165, 101, 54], [600, 350, 260, 100]])
def test_standard_errors_are_those_of_the_multinomial(catches):
    """Inverse of Fisher's information of (N, p), with N continuous and large."""
    k = len(catches)
    estimate = k_passes(catches)
    N, p = estimate.abundance, estimate.catchability
    q = 1 - p
    expected, missed = N * p * q ** np.arange(k), N * q**k
    escapes = (expected * np.arange(k)).sum() + k * missed
    information = [
        [1 / missed - 1 / N, k / q],
        [k / q, expected.sum() / p**2 + escapes / q**2],
    ]
    errors = np.sqrt(np.diag(np.linalg.inv(information)))
    assert estimate.standard_error == pytest.approx(errors[0])
    assert estimate.catchability_se == pytest.approx(errors[1])


@pytest.mark.parametrize("catches", [[79, 28], [31, 24, 13], [90, 80, 30, 20, 11], [10, 0]])
def test_profile_limits_by_direct_maximisation(catches):
    counts = np.array(catches)
    k, T = counts.size, counts.sum()

    def profile(N: int) -> float:
        """Maximise the multinomial likelihood over p by a general optimiser."""

        def minus(p: float) -> float:
            cells = np.append(p * (1 - p) ** np.arange(k), (1 - p) ** k)
            return -stats.multinomial.logpmf(np.append(counts, N - T), N, cells)

        return -optimize.minimize_scalar(
            minus, bounds=(1e-9, 1 - 1e-9), method="bounded", options={"xatol": 1e-10}
        ).fun

    estimate = k_passes(catches)
    heights = {N: profile(N) for N in range(T, int(estimate.high) + 3)}
    best = max(heights, key=lambda N: heights[N])
    within = [N for N in heights if heights[N] >= heights[best] - stats.chi2.ppf(0.9, 1) / 2]
    assert estimate.abundance == best
    assert (estimate.low, estimate.high) == (min(within), max(within))


def test_weak_fall_has_no_upper_limit():
    # Curtis and Qua Creeks, QUA1 2016-08-02 (CC0): SE 17.4 computed, of 22 fish.
    estimate = k_passes([6, 2, 5])
    assert estimate.standard_error == pytest.approx(17.35, abs=0.01)
    assert estimate.high == inf
    assert "too weak for an upper limit" in estimate.note


def test_only_the_weights_may_set_an_upper_limit():
    """Where the prior hardly forbids small p, the weighted limits are endless as well."""
    assert weighted_passes([6, 2, 5]).high < inf
    unweighted = weighted_passes([6, 2, 5], prior=(0.01, 1))
    assert unweighted.high == inf
    assert "too weak for an upper limit" in unweighted.note


@pytest.mark.parametrize("prior", [(1.0, 1.0), (2.0, 3.0)])
def test_weighted_likelihood_is_averaged_over_the_beta(prior):
    """The formula's N and limits follow from the likelihood integrated numerically over p."""
    catches = np.array([31, 24, 13])
    T, N = catches.sum(), np.arange(68, 400)
    p = (np.arange(4000) + 0.5) / 4000
    log_cells = [np.log(p) + i * np.log1p(-p) for i in range(3)]
    given_p = sum(c * cell for c, cell in zip(catches, log_cells, strict=True))
    missed = 3 * np.multiply.outer(N - T, np.log1p(-p))
    ways = gammaln(N + 1) - gammaln(N - T + 1)
    weight = stats.beta(*prior).logpdf(p)
    log_height = ways + np.log(np.exp(given_p + missed + weight + 120).mean(axis=1))
    estimate = weighted_passes(catches, prior=prior)
    assert estimate.abundance == N[log_height.argmax()]
    within = N[log_height >= log_height.max() - stats.chi2.ppf(0.9, 1) / 2]
    assert (estimate.low, estimate.high) == (within[0], within[-1])


@pytest.mark.parametrize(
    ("N", "p", "profile", "normal"),
    [(40, 0.5, 0.897, 0.827), (40, 0.6, 0.875, 0.848), (60, 0.6, 0.880, 0.869)],
)
def test_exact_coverage_of_two_pass_limits(N, p, profile, normal):
    """Summed over all catches; refused catches count as limits from the catch to no end.

    The 90 % limits are asymptotic and hold a little less often than they say with few fish. The
    numbers are this sum's own; the check is that the profile stays above 0.87 and beats the
    normal limits.
    """
    held = {"profile": 0.0, "normal": 0.0}
    for first in range(N + 1):
        of_first = stats.binom.pmf(first, N, p)
        of_second = stats.binom.pmf(np.arange(N - first + 1), N - first, p)
        for second, chance in enumerate(of_first * of_second):
            if chance < 1e-8:
                continue
            for interval in held:
                if second >= first:
                    held[interval] += chance
                    continue
                estimate = two_passes([first, second], interval=interval)
                held[interval] += chance * (estimate.low <= N <= estimate.high)
    assert held["profile"] > 0.87
    assert held["profile"] > held["normal"]
    assert held == pytest.approx({"profile": profile, "normal": normal}, abs=0.001)


def test_small_two_pass_catches_are_noted():
    # Condition of Seber & Le Cren 1967, value from memory: N p³ > 16 q² (1 + q).
    assert two_passes([20, 10]).note.startswith("too few fish")  # 40 × 0.125 < 6
    assert two_passes([30, 15]).note == ""  # 60 × 0.125 > 6


def test_normal_limits_stop_at_the_catch():
    estimate = two_passes([20, 2], interval="normal", level=0.99)
    assert estimate.low == 22
    assert estimate.high == pytest.approx(
        estimate.abundance + 2.5758 * estimate.standard_error, 1e-4
    )


def test_an_empty_last_pass_is_all_there_is():
    estimate = two_passes([12, 0])
    assert (estimate.abundance, estimate.standard_error, estimate.catchability) == (12, 0, 1)


@pytest.mark.parametrize(
    ("formula", "catches", "reason"),
    [
        (two_passes, [20, 20], r"catches do not decline from pass to pass \(20, 20\)"),
        (two_passes, [20, 25], "catches do not decline"),
        (two_passes, [20, 10, 5], "made for 2 passes: there are 3"),
        (three_passes, [30, 20], "made for 3 passes: there are 2"),
        (three_passes, [30, 50, 30], "catches do not decline"),
        # Curtis and Qua Creeks, QUA2 2016 (CC0): a catch that rises.
        (three_passes, [5, 7, 5], r"do not decline from pass to pass \(5, 7, 5\)"),
        (k_passes, [5, 7, 5], "catches do not decline"),
        (weighted_passes, [5, 7, 5], "catches do not decline"),
        (k_passes, [30], "removal needs 2 or more passes: there is 1"),
        (k_passes, [0, 0, 0], "no fish were caught"),
        (k_passes, [30, -2, 1], "catches must be numbers of 0 or more: got -2"),
        (k_passes, [30, 2.5, 1], r"catches must be whole numbers of fish: got 2\.5"),
        (k_passes, [30, float("nan"), 1], "got nan"),
        (k_passes, [[30, 20], [10, 5]], r"one list of numbers, not a table \(2, 2\)"),
    ],
)
def test_refusals(formula, catches, reason):
    with pytest.raises(DesignError, match=reason):
        formula(catches)


def test_weights_must_be_positive():
    with pytest.raises(DesignError, match="must be positive"):
        weighted_passes([30, 20, 10], prior=(0, 1))
