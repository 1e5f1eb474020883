"""The telescoped log-density against products of SciPy's own probabilities, and whole numbers."""

from __future__ import annotations

from math import comb, log

import numpy as np
import pytest
from scipy import stats

from fishdown.models.parts.catch import beta_shape, chance_log_density, schooling_log_density
from fishdown.models.parts.counting.season import (
    CountingModel,
    CountingTerms,
    SeasonPulls,
    season_terms,
)
from fishdown.models.parts.counting.terms import Fish, counting_log_density, telescoped, ways
from fishdown.models.parts.marks.release_groups import ReleaseGroups
from fishdown.models.parts.marks.shedding import KINDS

PULLS = ("caught", "looked_at", "gone_before", "spoiled", "gone")
MARKS = ("recaptured", "marks_at_large", "marks_removed")
ABUNDANCES = (2_400, 2_401, 3_000, 8_765)


def season(seed: int, *, pulls: int = 14, wrinkles: bool = False) -> dict[str, np.ndarray]:
    """Random catches out of 2,000 fish, 150 of them marked; wrinkles break the telescope."""
    rng = np.random.default_rng(seed)
    fish, marks = 2_000, 150
    rows = []
    for pull in range(pulls):
        spoiled = wrinkles and pull % 5 == 3
        unseen = wrinkles and pull % 6 == 2
        caught = int(rng.binomial(fish, rng.uniform(0.005, 0.06)))
        recaptured = int(rng.hypergeometric(marks, fish - marks, caught))
        put_back = int(rng.integers(0, caught + 1)) if wrinkles and pull % 4 == 1 else 0
        taken = recaptured - min(recaptured, put_back)
        seen = np.nan if unseen else recaptured
        looked_at = caught
        if wrinkles and pull % 5 == 0:
            looked_at = caught - caught // 3
            seen = int(rng.hypergeometric(recaptured, caught - recaptured, looked_at))
        rows.append((caught, looked_at, seen, marks, taken, 2_000 - fish, spoiled))
        fish -= caught - put_back
        marks -= taken
        if wrinkles and pull == 6:
            marks += 40
    columns = np.array(rows, float).T
    names = ("caught", "looked_at", "recaptured", "marks_at_large", "marks_removed", "gone_before")
    arrays = dict(zip((*names, "spoiled"), columns, strict=True))
    arrays["spoiled"] = arrays["spoiled"].astype(bool)
    return {**arrays, "gone": np.float64(2_000 - fish), "marks_left": np.float64(marks)}


def terms_of(arrays: dict, **model: bool | str) -> CountingTerms:
    """Terms of a season whose marks are counted together."""
    return season_terms(
        SeasonPulls(*(arrays[name] for name in PULLS)),
        groups_of(*(np.atleast_2d(arrays[n]) for n in MARKS), np.atleast_1d(arrays["marks_left"])),
        CountingModel(**model),
    )


def groups_of(*marks: np.ndarray) -> ReleaseGroups:
    return ReleaseGroups(*marks, kinds=np.eye(len(marks[-1]), len(KINDS)))


def counting_part(terms: CountingTerms, *unknowns: float) -> float:
    """Return it at the unmarked fish, and the share and marks carried over of each group."""
    fish = terms.coefficients @ np.array(unknowns)
    return counting_log_density(fish, terms.offsets, terms.weights).sum() + terms.constant


def ours(
    arrays: dict, N: float, hazard: np.ndarray, schooling: float | None, evidence: str
) -> float:
    terms = terms_of(arrays, evidence=evidence)
    counting = counting_part(terms, N - terms.marks_at_start.sum(), 1.0, 0.0)
    return counting + catches(arrays, N, hazard, schooling, evidence)


def catches(
    arrays: dict, N: float, hazard: np.ndarray, schooling: float | None, evidence: str
) -> float:
    speaks = ~arrays["spoiled"] if evidence != "marks" else np.zeros(len(hazard), bool)
    C, before, h = arrays["caught"][speaks], N - arrays["gone_before"][speaks], hazard[speaks]
    if schooling is None:
        return chance_log_density(C, before, h).sum()
    return schooling_log_density(C, before, *beta_shape(h, schooling)).sum()


def scipys(
    arrays: dict,
    N: float,
    hazard: np.ndarray,
    schooling: float | None,
    evidence: str,
    share: float = 1.0,
) -> float:
    """With `share`, each pull sees round(share × marks ever released) less those removed."""
    total = 0.0
    names = ("caught", "looked_at", *MARKS, "gone_before", "spoiled")
    removed = 0.0
    for C, E, R, M, taken, gone, spoiled, h in zip(
        *(arrays[n] for n in names), hazard, strict=True
    ):
        q = 1.0 - np.exp(-h)
        if evidence != "marks" and not spoiled:
            if schooling is None:
                total += stats.binom.logpmf(C, N - gone, q)
            else:
                a, b = (1 - q) / schooling**2, (1 - q) ** 2 / (q * schooling**2)
                total += stats.betabinom.logpmf(C, N - gone, a, b)
        if evidence != "depletion" and not np.isnan(R):
            counting = share * (M + removed) - removed
            total += stats.hypergeom.logpmf(R, N - gone, counting, E)
        removed += taken
    return total


@pytest.mark.parametrize("evidence", ["both", "marks", "depletion"])
@pytest.mark.parametrize("schooling", [None, 0.15, 0.8])
@pytest.mark.parametrize("wrinkles", [False, True])
def test_log_density_equals_scipys_products(
    evidence: str, schooling: float | None, wrinkles: bool
) -> None:
    for seed in range(5):
        arrays = season(seed, wrinkles=wrinkles)
        hazard = np.random.default_rng(seed).uniform(0.002, 0.08, len(arrays["caught"]))
        for N in ABUNDANCES:
            expected = scipys(arrays, N, hazard, schooling, evidence)
            assert ours(arrays, N, hazard, schooling, evidence) == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize("evidence", ["both", "marks"])
@pytest.mark.parametrize("wrinkles", [False, True])
def test_marks_that_do_not_all_count(evidence: str, wrinkles: bool) -> None:
    """Four fifths of the marks: whole numbers of fish, so that SciPy can say the same."""
    arrays = season(4, wrinkles=wrinkles)
    hazard = np.full(len(arrays["caught"]), 0.03)
    terms = terms_of(arrays, evidence=evidence, all_marks_count=False)
    assert terms.smallest_share <= 0.7
    share = 0.8
    for N in ABUNDANCES:
        found = counting_part(terms, N - share * terms.marks_at_start.sum(), share, 0.0)
        found += catches(arrays, N, hazard, 0.6, evidence)
        assert found == pytest.approx(scipys(arrays, N, hazard, 0.6, evidence, share), rel=1e-9)


def test_two_pools_and_marks_carried_over() -> None:
    """Two batches told apart, one with marks of an earlier year: multivariate hypergeometric."""
    rng = np.random.default_rng(8)
    unmarked, own, carried = 1_500, np.array([90, 60]), np.array([25, 0])
    present = np.array([unmarked, *(own + carried)])
    arrays: dict[str, list] = {name: [] for name in ("caught", "seen", "large", "gone")}
    expected, gone = 0.0, 0
    for _ in range(9):
        taken = rng.multivariate_hypergeometric(present, 40)
        expected += stats.multivariate_hypergeom.logpmf(taken, present, 40)
        for name, value in zip(arrays, (40, taken[1:], present[1:] - carried, gone), strict=True):
            arrays[name].append(value)
        present = present - taken
        gone += 40
    seen = np.array(arrays["seen"], float).T
    columns = (np.array(arrays[name], float) for name in ("caught", "caught", "gone"))
    at_large = np.array(arrays["large"], float).T
    terms = season_terms(
        SeasonPulls(*columns, np.zeros(9, bool), gone),
        groups_of(seen, at_large, seen, own - seen.sum(axis=1)),
        CountingModel("marks", all_marks_count=False, carried=True),
    )
    assert counting_part(terms, unmarked, 1.0, 1.0, *carried) == pytest.approx(expected, rel=1e-9)
    assert terms.bound == 360 - seen.sum()
    assert terms.least_carried.tolist() == np.maximum(seen.sum(axis=1) - own, 0).tolist()


@pytest.mark.parametrize("all_marks_count", [True, False])
def test_batches_of_the_marked_fish_where_recaptures_are_not_at_random(
    all_marks_count: bool,
) -> None:
    """What is left of recaptures is which batch they came from, given how many there were."""
    rng = np.random.default_rng(3)
    caught, gone = np.array([40.0, 55.0, 30.0]), np.array([0.0, 40.0, 95.0])
    present, expected = np.array([70, 45]), 0.0
    seen, large = np.zeros((2, 3)), np.zeros((2, 3))
    for pull, recaptured in enumerate((6, 9, 4)):
        taken = rng.multivariate_hypergeometric(present, recaptured)
        expected += stats.multivariate_hypergeom.logpmf(taken, present, recaptured)
        seen[:, pull], large[:, pull] = taken, present
        present = present - taken
    pulls = SeasonPulls(caught, caught, gone, np.zeros(3, bool), 125.0)
    groups = groups_of(seen, large, seen, present)
    for evidence in ("marks", "both"):
        model = CountingModel(evidence, all_marks_count=all_marks_count, at_random=False)
        terms = season_terms(pulls, groups, model)
        N, q = 900.0, 0.03
        share = 0.0 if all_marks_count else 1.0
        found = counting_part(terms, N - 115.0, share, share, 0.0, 0.0)
        if evidence == "both":
            found += chance_log_density(caught, N - gone, -np.log1p(-q)).sum()
            expected += stats.binom.logpmf(caught, N - gone, q).sum()
        assert found == pytest.approx(expected, rel=1e-9)
        assert terms.bound == 125.0 - seen.sum()
        assert terms.marks_released.tolist() == [70, 45]


def test_terms_are_binomial_coefficients_of_whole_numbers() -> None:
    """Products of `math.comb`, in which the second pull starts where the first one ends."""
    everyone, marked = (1.0, 1.0), (0.0, 1.0)
    terms = [
        *ways(Fish(everyone, 3.0), 7.0),
        *ways(Fish(everyone, 10.0), 5.0),
        *ways(Fish(marked, 0.0), 2.0, sign=-1),
    ]
    left, constant = telescoped(terms)
    assert len(left) == 4
    for unmarked, marks in ((20, 4), (31, 2), (15, 3)):
        fish = unmarked + marks
        expected = log(comb(fish - 3, 7)) + log(comb(fish - 10, 5)) - log(comb(marks, 2))
        forms, offsets, weights = (np.array(column) for column in zip(*left, strict=True))
        found = counting_log_density(forms @ np.array([unmarked, marks]), offsets, weights)
        assert found.sum() + constant == pytest.approx(expected, rel=1e-12)


def test_pulls_without_unknowns_are_a_constant() -> None:
    left, constant = telescoped(ways(Fish((0.0,), -12.0), 5.0))
    assert left == []
    assert constant == pytest.approx(log(comb(12, 5)), rel=1e-12)


def test_a_plain_season_leaves_two_terms() -> None:
    arrays = season(1, pulls=60)
    assert len(terms_of(arrays).offsets) == 2
    assert len(terms_of(arrays, evidence="depletion").offsets) == 2
    # With uncertain marks the marked fish keep their two terms as well.
    assert len(terms_of(arrays, all_marks_count=False).offsets) == 4


def test_bound_is_all_fish_known_to_have_been_there() -> None:
    arrays = season(2)
    removed = arrays["caught"].sum()
    terms = terms_of(arrays)
    known = terms.bound + terms.marks_at_start
    assert known == removed + arrays["marks_left"]
    assert terms_of(arrays, evidence="depletion").bound == removed
    hazard = np.full(len(arrays["caught"]), 0.02)
    assert np.isneginf(scipys(arrays, known - 1, hazard, 0.5, "both"))


def test_schooling_is_the_variation_of_the_share() -> None:
    for q, s in ((0.01, 0.7), (0.2, 0.4), (0.6, 1.5)):
        a, b = beta_shape(-np.log1p(-q), s)
        share = stats.beta(a, b)
        assert share.mean() == pytest.approx(q)
        expected = s * np.sqrt((1 - q) / (1 - q + q * s**2))
        assert share.std() / share.mean() == pytest.approx(expected)
