"""Marks alone, where marks count by chance, against plain enumeration over whole fish and marks."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import xarray as xr
from field_records import daily_pulls
from scipy import stats
from scipy.special import logsumexp
from textbook import textbook

import fishdown
from fishdown.checks.evidence import catches_alone, compare
from fishdown.checks.marks_alone import MarksAlone, marks_of_seasons
from fishdown.models.priors import Prior
from fishdown.posterior.disagreement import disagreement

MARKED = (60, 90)
LARGEST = 5_000
NODES = 120
PROBABILITIES = np.array([0.05, 0.25, 0.5, 0.75, 0.95])


@pytest.fixture(scope="module")
def campaign(shared_folder_of: Callable[..., Path]) -> fishdown.Campaign:
    """Return two lakes; by their marks at face value 750 and 1,500 fish."""
    pulls = [
        *daily_pulls("Alder", [60, 40, 50], recaptured=[5, 3, 4]),
        *daily_pulls("Birch", [80, 30, 40], recaptured=[5, "", 2], released_again=[0, 4, 0]),
    ]
    return fishdown.read(
        shared_folder_of(
            lakes=[{"lake": "Alder", "area_ha": 10}, {"lake": "Birch", "area_ha": 20}],
            pulls=pulls,
            marked=[
                {"date": "2024-05-01", "lake": lake, "batch": "b", "mark": "fin_clip",
                 "released": released}
                for lake, released in zip(("Alder", "Birch"), MARKED, strict=True)
            ],
        )
    )  # fmt: skip


def enumerated(
    campaign: fishdown.Campaign, spec: fishdown.ModelSpec, name: str
) -> list[np.ndarray]:
    """Cumulative probability of each whole number of fish of each lake, 1 to 2 × LARGEST."""
    chances = spec.priors[name].quantile((np.arange(NODES) + 0.5) / NODES)
    within = np.arange(LARGEST + 1.0)
    joint = []
    for season, marked in enumerate(MARKED):
        pulls = campaign.season_pulls(season).to_dataframe()
        area = float(campaign.lakes["area"].values[season])
        counting = np.arange(marked + 1.0)[:, None]
        likelihood = np.zeros((marked + 1, LARGEST + 1))
        gone = 0.0
        for row in pulls.itertuples():
            if not np.isnan(row.recaptured):
                likelihood = likelihood + stats.hypergeom.logpmf(
                    row.recaptured, within - row.gone_before, counting - gone, row.caught
                )
            gone += row.marks_removed
        likelihood = np.where(np.isnan(likelihood), -np.inf, likelihood)
        by_chance = stats.binom.logpmf(counting, marked, chances)  # (marks, chance)
        vulnerable = chances if name == "vulnerable" else np.ones(NODES)
        rows = []
        for node in range(NODES):
            prior = spec.priors["density"].log_density(within / vulnerable[node] / area)
            both = likelihood + by_chance[:, node][:, None] + prior - np.log(vulnerable[node])
            rows.append(logsumexp(both, axis=0))
        joint.append(np.array(rows))
    weight = sum(logsumexp(rows, axis=1) for rows in joint)
    weight = np.exp(weight - logsumexp(weight))
    found = []
    for rows in joint:
        share = np.exp(rows - logsumexp(rows, axis=1)[:, None])
        assert share[:, -1].max() < 1e-5
        fish = np.arange(2.0 * LARGEST)
        cumulative = np.zeros(2 * LARGEST)
        for node in range(NODES):
            vulnerable = chances[node] if name == "vulnerable" else 1.0
            cumulative += weight[node] * np.interp(
                fish * vulnerable, within, np.cumsum(share[node])
            )
        found.append(cumulative)
    return found


@pytest.mark.parametrize(
    ("model", "name"), [("lost_marks", "mark_retention"), ("hidden_fish", "vulnerable")]
)
def test_quadrature_equals_enumeration(campaign: fishdown.Campaign, model: str, name: str) -> None:
    spec = fishdown.read_model(model)
    found = marks_of_seasons(campaign, spec)
    for season, cumulative in enumerate(enumerated(campaign, spec, name)):
        expected = np.searchsorted(cumulative, PROBABILITIES)
        assert found[season].quantile(PROBABILITIES) == pytest.approx(expected, rel=0.01)
        assert found[season].cumulative[-1] == pytest.approx(1.0, abs=1e-6)


def test_marks_that_are_kept_for_sure_count_in_full(campaign: fishdown.Campaign) -> None:
    lost = fishdown.read_model("lost_marks")
    sure = replace(lost, priors={**lost.priors, "mark_retention": Prior("beta", (4e4, 1.0))})
    plain = marks_of_seasons(campaign, textbook("pooled_lakes"))
    found = marks_of_seasons(campaign, sure)
    for season in plain:
        assert found[season].quantile(PROBABILITIES) == pytest.approx(
            plain[season].quantile(PROBABILITIES), rel=0.01
        )


def test_both_parts_at_once_multiply(campaign: fishdown.Campaign) -> None:
    """With nearly all fish vulnerable, the two chances together are mark retention."""
    lost, hidden = fishdown.read_model("lost_marks"), fishdown.read_model("hidden_fish")
    nearly = {**lost.priors, "vulnerable": Prior("beta", (4e4, 1.0))}
    both = replace(hidden, parts={**hidden.parts, "marks": "lost"}, priors=nearly)
    one, two = marks_of_seasons(campaign, lost), marks_of_seasons(campaign, both)
    for season in one:
        assert two[season].quantile(PROBABILITIES) == pytest.approx(
            one[season].quantile(PROBABILITIES), rel=0.02
        )


def test_lost_marks_explain_what_marks_at_face_value_contradict(
    campaign: fishdown.Campaign,
) -> None:
    """Half of the marks lost: at face value a conflict, under a prior that allows it none."""
    rng = np.random.default_rng(3)
    middle = [375.0, 750.0]  # half of what the marks say at face value
    catches = xr.DataArray(
        np.array(middle) * np.exp(rng.normal(0.0, 0.05, (4, 1_000, 2))),
        dims=("chain", "draw", "season"),
    )
    kept = compare(campaign, textbook("pooled_lakes"), catches, catches)
    lost = fishdown.read_model("lost_marks")
    half = replace(lost, priors={**lost.priors, "mark_retention": Prior("beta", (10.0, 10.0))})
    explained = compare(campaign, half, catches, catches)
    for season in (0, 1):
        assert disagreement(kept, season).tail_probability < 0.05
        assert disagreement(explained, season).tail_probability > 0.4


def test_draws_may_take_the_place_of_quadrature(campaign: fishdown.Campaign) -> None:
    spec = textbook("pooled_lakes")
    rng = np.random.default_rng(5)
    draws = xr.DataArray(rng.normal(800.0, 50.0, (4, 500, 2)), dims=("chain", "draw", "season"))
    found = compare(campaign, spec, draws, draws, marks=draws)
    assert found["tail_probability"].values == pytest.approx([1.0, 1.0], abs=0.01)
    medians = found["abundance"].sel(evidence="marks", point="median").values
    assert medians == pytest.approx(np.median(draws.values, axis=(0, 1)), rel=1e-3)
    far = compare(campaign, spec, draws, draws * 0.5, marks=draws)
    assert (far["tail_probability"].values < 0.01).all()
    two = MarksAlone.from_draws(np.array([[3.0, 1.0]]))
    assert two.at_most(np.array([0.5, 2.0, 9.0])).tolist() == [0.0, 0.5, 1.0]


def test_catches_alone_keep_fish_not_vulnerable() -> None:
    hidden = catches_alone(fishdown.read_model("hidden_fish"))
    assert (hidden.part("vulnerable"), hidden.part("evidence")) == ("some", "depletion")
    lost = catches_alone(fishdown.read_model("lost_marks"))
    assert lost.part("marks") == "all_count"
    assert "mark_retention" not in lost.priors
