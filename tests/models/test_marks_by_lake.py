"""Retention and survival that differ between lakes: in the graph, its evidence, and its priors."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from field_records import daily_pulls
from graph_points import values_of_graph
from scipy import stats
from scipy.special import expit, logit

import fishdown
from fishdown.checks.effective_marks_alone import prior_of_effective_marks
from fishdown.models.data import fitting_spec

LAKES = ("Alder", "Birch")
# Penned, alive, marked; by lake and kind of mark.
PENS = {
    ("Alder", "fin_clip"): (20, 18, 17),
    ("Alder", "both"): (12, 12, 11),
    ("Birch", "pit_tag"): (30, 21, 14),
}


@pytest.fixture
def campaign(folder_of: Callable[..., Path]) -> fishdown.Campaign:
    return fishdown.read(
        folder_of(
            lakes=[{"lake": name, "area_ha": 20} for name in LAKES],
            pulls=[
                pull
                for name in LAKES
                for pull in daily_pulls(name, [60, 40, 30], recaptured=[6, 4, 2])
            ],
            marked=[
                {"date": "2024-05-01", "lake": lake, "batch": f"{lake} {mark}", "mark": mark,
                 "released": 30, "penned": penned, "pen_alive": alive, "pen_marked": marked}
                for (lake, mark), (penned, alive, marked) in PENS.items()
            ],
        )
    )  # fmt: skip


def pooled(campaign: fishdown.Campaign) -> fishdown.ModelSpec:
    spec = fishdown.read_model("pooled_lakes").with_parts(natural_deaths="none")
    return fitting_spec(campaign, spec)[0]


def test_clips_and_tags_of_a_lake_share_how_far_it_is_from_a_typical_one(
    campaign: fishdown.Campaign,
) -> None:
    at = values_of_graph(campaign, pooled(campaign))[0].isel(chain=0)
    retained = at["retention_spread"] * at["retention_step"]
    alive = at["release_survival_spread"] * at["post_release_survival_step"]
    for name, apart in (
        ("clip_retention", retained),
        ("tag_retention", retained),
        ("post_release_survival", alive),
    ):
        expected = expit(logit(at[f"{name}_typical"]) + apart)
        assert at[name].dims == ("draw", "lake")
        assert at[name].values == pytest.approx(expected.transpose(*at[name].dims).values)
    c, t = at["clip_retention"].values[:, 0], at["tag_retention"].values
    kept = np.stack([0.5 * c + 0.5 * (c + t[:, 0] - c * t[:, 0]), t[:, 1]], axis=1)
    product = kept * at["post_release_survival"].values * at["capture_odds_ratio"].values
    assert at["effective_marks"].values == pytest.approx(product)


def test_a_pen_tells_of_its_own_lake(campaign: fishdown.Campaign) -> None:
    posterior, potentials = values_of_graph(campaign, pooled(campaign))
    at = posterior.isel(chain=0)
    c, t, alive = (
        at[name].values for name in ("clip_retention", "tag_retention", "post_release_survival")
    )
    lived = stats.binom.logpmf(30, 32, alive[:, 0]) + stats.binom.logpmf(21, 30, alive[:, 1])
    assert potentials["pens_lived"] == pytest.approx(lived, rel=1e-9)
    either = (c + t - c * t)[:, 0]
    marked = stats.binom.logpmf(17, 18, c[:, 0]) + stats.binom.logpmf(11, 12, either)
    marked += stats.binom.logpmf(14, 21, t[:, 1])
    assert potentials["pens_retained"] == pytest.approx(marked, rel=1e-9)


@pytest.mark.parametrize("name", ["pooled_lakes", "many_years", "smooth_cooling", "detailed_nets"])
def test_a_lake_alone_has_the_prior_that_it_has_among_others(name: str) -> None:
    """What a mark counts for, by simulation: medians, and the limits of 90 %."""
    among = fishdown.read_model(name).with_parts(years="apart", second_looks="none")
    alone = among.with_parts(pooling="none")
    for kinds in np.eye(3):
        ends = [0.05, 0.5, 0.95]
        one, other = (
            np.quantile(prior_of_effective_marks(kinds, spec, 0.0), ends) for spec in (alone, among)
        )
        assert other == pytest.approx(one, rel=0.03)


def test_one_lake_of_a_model_of_several_has_the_deviations_together() -> None:
    among, alone = fishdown.read_model("pooled_lakes"), fishdown.read_model("one_lake")
    left = among.with_parts(pooling="none")
    assert "retention_spread" not in left.priors
    for name in ("clip_retention", "tag_retention", "post_release_survival"):
        assert left.priors[name].numbers == pytest.approx(alone.priors[name].numbers, rel=0.02)
    assert left.priors["schooling"] == among.priors["schooling"]
