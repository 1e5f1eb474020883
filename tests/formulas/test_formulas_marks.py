"""Marks: Chapman, Schnabel and Schumacher–Eschmeyer against published examples and scipy.stats."""

from __future__ import annotations

import csv
from math import inf
from pathlib import Path

import numpy as np
import pytest
from scipy import stats

from fishdown.errors import DesignError
from fishdown.formulas import chapman, schnabel, schumacher_eschmeyer

PUBLISHED = Path(__file__).parents[1] / "published"


def example(name: str) -> dict[str, list[int]]:
    """Read the data of one published example, for instance 'C=10 27 17; R=0 0 0'."""
    with (PUBLISHED / "published_examples.csv").open(newline="") as file:
        row = next(row for row in csv.DictReader(file) if row["id"] == name)
    parts = (part.split("=") for part in row["data"].replace("; ", ";").split(";"))
    return {key.strip(): [int(number) for number in numbers.split()] for key, numbers in parts}


@pytest.fixture(scope="module")
def gerking() -> tuple[list[int], list[int], list[int]]:
    """Gerking 1953, Trans. Am. Fish. Soc. 82:48–67, Gordy Lake sunfish (values from memory)."""
    data = example("gerking1953")
    return data["C"], data["R"], data["M"]


def test_gerking_schnabel(gerking):
    # Schnabel 447.5 as tabled in textbooks; exact Poisson 95 % limits computed with scipy.
    estimate = schnabel(*gerking, level=0.95)
    assert estimate.abundance == pytest.approx(447.50, abs=0.005)
    assert estimate.standard_error == pytest.approx(447.5 / np.sqrt(24))  # N/√Σ R
    assert estimate.low == pytest.approx(300.76, abs=0.005)
    assert estimate.high == pytest.approx(698.43, abs=0.005)
    assert "Poisson" in estimate.interval
    assert schnabel(*gerking, plus_one=True).abundance == pytest.approx(429.60, abs=0.005)


def test_gerking_schumacher_eschmeyer(gerking):
    # 423 (95 % 300–719) as tabled in textbooks; digits computed with numpy and scipy.
    estimate = schumacher_eschmeyer(*gerking, level=0.95)
    assert estimate.abundance == pytest.approx(422.97, abs=0.005)
    assert estimate.low == pytest.approx(299.66, abs=0.005)
    assert estimate.high == pytest.approx(718.74, abs=0.005)


def test_schumacher_eschmeyer_is_a_weighted_line_through_the_origin(gerking):
    C, R, M = (np.array(values, dtype=float)[1:] for values in gerking)
    # √C × (R/C) on √C × M without intercept, by general least squares.
    x, y = np.sqrt(C) * M, R / np.sqrt(C)
    (slope,), (squares,), *_ = np.linalg.lstsq(x[:, None], y, rcond=None)
    error = np.sqrt(squares / (y.size - 1) / (x @ x))
    low, high = stats.t.interval(0.9, y.size - 1, loc=slope, scale=error)
    estimate = schumacher_eschmeyer(*gerking)
    assert estimate.abundance == pytest.approx(1 / slope)
    assert (estimate.low, estimate.high) == pytest.approx((1 / high, 1 / low))
    assert estimate.standard_error == pytest.approx(error / slope**2)


def test_chapman_109_177_57():
    # Trout example, Ricker 1975 (values from memory): 337; variance 615.59 (SE 24.81) computed.
    estimate = chapman(109, 177, 57, level=0.95, interval="normal")
    assert estimate.abundance == pytest.approx(336.586, abs=0.001)
    assert estimate.standard_error**2 == pytest.approx(615.59, abs=0.005)
    assert estimate.high - estimate.abundance == pytest.approx(1.959964 * 24.811, abs=0.001)


def test_chapman_is_unbiased_when_marks_and_catch_exceed_abundance():
    # Chapman 1951: E[N] = N exactly if M + C ≥ N; and so is the variance of Seber 1970.
    N, M, C = 30, 18, 14
    chance = stats.hypergeom(N, M, C)
    estimates = {R: chapman(M, C, R) for R in range(max(1, M + C - N), C + 1)}
    mean = sum(chance.pmf(R) * e.abundance for R, e in estimates.items())
    spread = sum(chance.pmf(R) * (e.abundance - N) ** 2 for R, e in estimates.items())
    variance = sum(chance.pmf(R) * e.standard_error**2 for R, e in estimates.items())
    assert mean == pytest.approx(N)
    assert variance == pytest.approx(spread)


@pytest.mark.parametrize(("M", "C", "R"), [(109, 177, 57), (20, 30, 2), (12, 9, 9), (40, 40, 1)])
def test_hypergeometric_limits_are_where_the_tails_cross(M, C, R):
    estimate = chapman(M, C, R)

    def upper_tail(N: float) -> float:
        return stats.hypergeom.sf(R - 1, int(N), M, C)

    def lower_tail(N: float) -> float:
        return stats.hypergeom.cdf(R, int(N), M, C)

    assert estimate.low >= M + C - R
    assert lower_tail(estimate.low) > 0.05
    assert estimate.low == M + C - R or lower_tail(estimate.low - 1) <= 0.05
    assert upper_tail(estimate.high) > 0.05 >= upper_tail(estimate.high + 1)


def test_exact_coverage_of_the_limits():
    """Summed over all recaptures; a sample without recaptures, refused, has no upper limit."""
    M, C = 40, 50
    exact, normal = [], []
    for N in range(100, 601, 20):
        chance = stats.hypergeom(N, M, C)
        counts = range(1, min(M, C) + 1)
        for kind, coverage in (("hypergeometric", exact), ("normal", normal)):
            limits = {R: chapman(M, C, R, interval=kind) for R in counts}
            held = sum(chance.pmf(R) for R in counts if limits[R].low <= N <= limits[R].high)
            coverage.append(held + (chance.pmf(0) if kind == "hypergeometric" else 0))
    assert min(exact) >= 0.9
    assert np.mean(exact) < 0.96  # and not by being endless
    assert min(normal) < 0.85  # why the normal interval is not the default


def test_known_removals_in_schnabel():
    """Recaptures set to their expected values bring back the abundance that made them."""
    N0, M, D = 5000, np.array([1000, 900, 800, 700]), np.array([0, 1000, 2000, 3000])
    C = np.array([1000, 1000, 1000, 1000])
    R = C * M / (N0 - D)  # 200, 225, 266.7, 350
    estimate = schnabel(C, np.round(R), M, removed_before=D)
    assert estimate.abundance == pytest.approx(N0, rel=0.001)
    assert estimate.low < N0 < estimate.high
    ignoring = schnabel(C, np.round(R), M)
    assert ignoring.abundance < 0.7 * N0
    # One recapture more or less moves N by its slope; their Poisson error is √Σ R of those.
    one_more = schnabel(C, np.round(R), M, removed_before=D, plus_one=True)
    moved = (estimate.abundance - one_more.abundance) * np.sqrt(np.round(R).sum())
    assert estimate.standard_error == pytest.approx(moved, rel=0.002)
    # Removals before all samples only shift the answer.
    shifted = schnabel(C, np.round(R), M, removed_before=D + 40)
    assert shifted.abundance == pytest.approx(estimate.abundance + 40)


def test_schnabel_with_many_recaptures_uses_t_on_the_inverse():
    C, R, M = [300, 300, 300], [20, 25, 30], [100, 120, 140]
    estimate = schnabel(C, R, M)
    handled, total = np.dot(C, M), sum(R)
    margin = stats.t.ppf(0.95, 3) * np.sqrt(total) / handled
    assert estimate.abundance == pytest.approx(handled / total)
    assert 1 / estimate.low == pytest.approx(total / handled + margin)
    assert 1 / estimate.high == pytest.approx(total / handled - margin)


def test_schnabel_without_an_upper_limit():
    # Two samples: t is 9.92 at 99 %, and 9.92 × √50 is more than the 50 recaptures.
    arguments = ([300, 300], [20, 30], [100, 120])
    assert schnabel(*arguments, level=0.99).high == inf
    assert schnabel(*arguments, level=0.9).high < inf


def test_few_recaptures_are_noted():
    assert "only 6 recaptures" in chapman(100, 50, 6).note
    assert chapman(100, 50, 7).note == ""
    assert chapman(10, 8, 6).note == ""  # marks and catch exceed abundance: unbiased


def test_limits_do_not_go_below_the_fish_handled():
    estimate = schnabel([50, 20], [20, 19], [25, 20])  # Σ C M/Σ R is 42
    assert estimate.low == estimate.abundance == 25 + 50 - 20
    assert "handled" in estimate.note


def test_scattered_shares_leave_no_upper_limit():
    estimate = schumacher_eschmeyer([20, 20, 20], [8, 0, 1], [30, 50, 70])
    assert estimate.high == inf
    assert str(estimate).endswith("no upper limit]")


@pytest.mark.parametrize(
    ("arguments", "reason"),
    [
        ((0, 50, 0), "no marked fish were at large"),
        ((50, 0, 0), "no fish were examined"),
        ((100, 50, 60), "60 recaptures are more than the 50 fish examined"),
        ((10, 50, 20), "20 recaptures are more than the 10 marked fish"),
        ((100, 50, -1), "recaptures must be numbers of 0 or more: got -1"),
        ((100.5, 50, 1), r"marked fish must be whole numbers of fish: got 100\.5"),
    ],
)
def test_chapman_refuses(arguments, reason):
    with pytest.raises(DesignError, match=reason):
        chapman(*arguments)


def test_no_recaptures_give_only_a_lower_limit():
    # The least N at which missing all marks is not rarer than 10 %.
    least = next(N for N in range(150, 10**5) if stats.hypergeom.pmf(0, N, 100, 50) > 0.1)
    with pytest.raises(DesignError, match=rf"no recaptures among 50 .* {least:,} fish \(90%"):
        chapman(100, 50, 0)


@pytest.mark.parametrize(
    ("arguments", "reason"),
    [
        (([10, 10], [0, 0], [5, 8]), "no recaptures among 20"),
        (([10, 10], [0, 11], [5, 18]), "sample 2: 11 recaptures are more than the 10 fish exam"),
        (([10, 10], [6, 1], [5, 8]), "sample 1: 6 recaptures are more than the 5 marked"),
        (([10, 10], [0, 1], [0, 8]), "1 sample with marks at large"),
        (([10, 10], [0, 0], [0, 0]), "no marked fish were at large"),
        (([10, 10], [0, 1, 2], [5, 8]), "3 numbers of recaptures were given for 2 catches"),
        (([10, 10], [0, 1], [5, 8, 9]), "3 numbers of marks at large were given for 2"),
    ],
)
@pytest.mark.parametrize("formula", [schnabel, schumacher_eschmeyer])
def test_several_samples_refuse(formula, arguments, reason):
    with pytest.raises(DesignError, match=reason):
        formula(*arguments)


def test_schumacher_eschmeyer_refuses_removals(gerking):
    with pytest.raises(DesignError, match="12 fish were removed between"):
        schumacher_eschmeyer(*gerking, removed_before=range(14))


def test_level_is_a_probability():
    with pytest.raises(DesignError, match=r"between 0 and 1, for example 0\.9: 90"):
        chapman(109, 177, 57, level=90)
