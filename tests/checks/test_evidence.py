"""Marks against catches, with the catches' posterior given: no sampling."""

from __future__ import annotations

import numpy as np
import pytest
import xarray as xr
from enumeration import exact_abundance
from textbook import textbook

import fishdown
from fishdown.checks.evidence import both_speak, compare
from fishdown.checks.marks_alone import marks_alone
from fishdown.models.parts.counting.counts import counting_terms
from fishdown.models.parts.counting.season import CountingModel
from fishdown.posterior.disagreement import CONFLICT, KINDS, Disagreement, disagreement
from fishdown.statements.evidence import evidence_frame
from fishdown.worlds import LakeTruth, World, simulate

FISH = 2_400


@pytest.fixture(scope="module")
def campaign() -> fishdown.Campaign:
    world = World((LakeTruth("Alder", 30.0, FISH),), rounds=6)
    return simulate(world, np.random.default_rng(8))[0]


@pytest.fixture(scope="module")
def spec() -> fishdown.ModelSpec:
    return textbook()


def draws_around(abundance: float, spread: float) -> xr.DataArray:
    rng = np.random.default_rng(3)
    values = abundance * np.exp(rng.normal(0.0, spread, (4, 1_000, 1)))
    return xr.DataArray(values, dims=("chain", "draw", "season"))


def test_quadrature_equals_enumeration(
    campaign: fishdown.Campaign, spec: fishdown.ModelSpec
) -> None:
    by_marks = spec.with_parts(evidence="marks", weights="none")
    N, exact = exact_abundance(campaign, by_marks, largest=20_000)
    assert exact[-1] < 1e-6
    found = marks_alone(
        counting_terms(campaign, 0, CountingModel("marks")), spec.priors["density"], 30.0
    )
    for probability in (0.05, 0.5, 0.95):
        expected = N[np.searchsorted(exact.cumsum(), probability)]
        assert found.quantile(np.array([probability]))[0] == pytest.approx(expected, rel=0.003)
    assert found.at_most(np.array([float(N[0]) - 2.0, 1e9])).tolist() == [0.0, 1.0]


def test_catches_that_agree_and_catches_that_do_not(
    campaign: fishdown.Campaign, spec: fishdown.ModelSpec
) -> None:
    marks = marks_alone(
        counting_terms(campaign, 0, CountingModel("marks")), spec.priors["density"], 30.0
    )
    middle = float(marks.quantile(np.array([0.5]))[0])

    def said(abundance: float) -> Disagreement:
        found = compare(campaign, spec, draws_around(middle, 0.1), draws_around(abundance, 0.1))
        return disagreement(found, 0)

    alike, fewer, more = said(middle), said(0.4 * middle), said(2.5 * middle)
    assert alike.tail_probability > 0.8
    assert alike.said is None
    assert not alike.conflict
    for one in (fewer, more):
        assert one.tail_probability < CONFLICT
        assert one.conflict
        assert "contradict each other (tail probability of the difference less than 1 %)" in str(
            one.said
        )
    assert fewer.more_by_marks
    assert "the mark–recapture estimate exceeds the depletion estimate" in str(fewer.said)
    assert "lost or overlooked marks" in str(fewer.said)
    assert not more.more_by_marks
    assert "trap-happy marked fish" in str(more.said)


def test_conflict_withholds_the_verdict(
    campaign: fishdown.Campaign, spec: fishdown.ModelSpec
) -> None:
    from dataclasses import replace

    fit = fishdown.fit(
        campaign, spec, settings=fishdown.SamplerSettings(draws=500, tune=500, seed=2)
    )
    assert fit.passed
    assert set(fit.evidence()["evidence"]) == set(KINDS)
    assert fit.evidence()["median"].notna().all()
    conflict = compare(
        campaign, spec, fit.quantities["abundance_before"], draws_around(0.3 * FISH, 0.05)
    )
    tree = fit.tree.copy()
    tree["evidence"] = xr.DataTree(conflict)
    doubted = replace(fit, tree=tree)
    assert not doubted.passed
    verdict = doubted.verdicts().iloc[1]
    assert verdict["statement"].startswith("Withheld for Alder in 2025: the mark–recapture and")
    assert np.isnan(verdict["probability_below"])
    shown = doubted.verdicts(despite_gate=True).iloc[1]
    assert shown["statement"].startswith("WARNING")
    assert 0.0 < shown["probability_below"] < 1.0


def test_no_comparison_without_both(campaign: fishdown.Campaign, spec: fishdown.ModelSpec) -> None:
    assert both_speak(campaign, spec)
    assert not both_speak(campaign, spec.with_parts(evidence="depletion"))
    from dataclasses import replace

    unseen = campaign.pulls.assign(
        recaptured=("pull", np.full(campaign.pulls.sizes["pull"], np.nan))
    )
    assert not both_speak(replace(campaign, pulls=unseen), spec)


def test_a_season_without_marks_has_no_tail_probability(
    campaign: fishdown.Campaign, spec: fishdown.ModelSpec
) -> None:
    from dataclasses import replace

    pulls = campaign.pulls.assign(
        {
            name: campaign.pulls[name] * 0.0
            for name in ("recaptured", "marks_at_large", "marks_removed")
        }
    )
    bare = replace(campaign, pulls=pulls)
    found = compare(bare, spec, draws_around(FISH, 0.1), draws_around(FISH, 0.1))
    assert np.isnan(found["tail_probability"].values).all()
    assert disagreement(found, 0).said is None
    assert evidence_frame(bare, found)["median"].isna().tolist() == [True, False, False]
