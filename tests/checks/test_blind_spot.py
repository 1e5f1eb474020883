"""What the evidence gate cannot see: its chance to notice, and the what-if; no sampling."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import xarray as xr
from drawn_fits import drawn_fit, records
from scipy import stats
from textbook import EVERY_MARK, textbook

import fishdown
from fishdown.checks.blind_spot import LOST, blind_spot, chance_to_notice, weight_of_marks
from fishdown.checks.marks_alone import marks_alone
from fishdown.models.parts.counting.counts import counting_terms
from fishdown.models.parts.counting.season import CountingModel
from fishdown.posterior.disagreement import DOUBT
from fishdown.worlds import LakeTruth, World, simulate


def interval(middle: float, scale: float) -> np.ndarray:
    """Low, median and high of a log-normal number, by SciPy."""
    return stats.lognorm(scale, scale=middle).ppf([0.05, 0.5, 0.95])


@pytest.mark.parametrize("scales", [(0.1, 0.05), (0.1, 0.15), (0.2, 0.6)])
def test_chance_to_notice_is_how_often_it_happens(scales: tuple[float, float]) -> None:
    """Seasons drawn one by one, tail probability from the normal difference of posteriors."""
    rng = np.random.default_rng(5)
    by_marks, by_catches = (rng.normal(0.0, scale, 200_000) for scale in scales)
    by_marks += -np.log(1.0 - LOST)
    u = stats.norm.cdf((by_catches - by_marks) / np.hypot(*scales))
    happened = np.mean(2.0 * np.minimum(u, 1.0 - u) < DOUBT)
    found = chance_to_notice(interval(800.0, scales[0]), interval(500.0, scales[1]))
    assert found == pytest.approx(happened, abs=0.005)


def test_weight_is_that_of_a_product_of_densities() -> None:
    """The mean of the product of two normal densities, on a grid, moves as far as it says."""
    grid = np.linspace(-2.0, 2.0, 20_001)

    def mean(of_marks: float) -> float:
        both = stats.norm.pdf(grid, of_marks, 0.12) * stats.norm.pdf(grid, 0.1, 0.3)
        return float(np.sum(grid * both) / np.sum(both))

    moved = (mean(0.2) - mean(0.0)) / 0.2
    assert weight_of_marks(interval(1.0, 0.12), interval(1.1, 0.3)) == pytest.approx(
        moved, rel=1e-6
    )


def test_fewer_marks_move_abundance_as_far_as_the_what_if_says() -> None:
    """The posterior by the marks, by quadrature, with a fifth of the marks at large gone."""
    campaign, _ = simulate(
        World((LakeTruth("Alder", 30.0, 2_400),), rounds=8, marked=300), np.random.default_rng(8)
    )
    density = fishdown.read_model("marks_only").priors["density"]
    pulls = campaign.pulls
    fewer = replace(
        campaign, pulls=pulls.assign(marks_at_large=pulls["marks_at_large"] - LOST * 300.0)
    )
    medians = [
        marks_alone(counting_terms(one, 0, CountingModel("marks")), density, 30.0).quantile(
            np.array([0.5])
        )[0]
        for one in (campaign, fewer)
    ]
    assert medians[1] / medians[0] == pytest.approx(1.0 - LOST, abs=0.02)


@pytest.fixture(scope="module")
def fit(tmp_path_factory: pytest.TempPathFactory) -> fishdown.Fit:
    folder = records(tmp_path_factory.mktemp("records") / "campaign")
    return drawn_fit(folder, **EVERY_MARK)


def with_evidence(fit: fishdown.Fit, marks: float, catches: float) -> fishdown.Fit:
    """Give the fit posteriors of these spreads about one middle."""
    found = fit.tree["evidence"].to_dataset().copy(deep=True)
    found["abundance"][0, 0] = interval(1_000.0, marks)
    found["abundance"][0, 1] = interval(1_000.0, catches)
    found["tail_probability"][0] = 0.9
    tree = fit.tree.copy()
    tree["evidence"] = xr.DataTree(found)
    return replace(fit, tree=tree)


def test_vague_catches_leave_a_caution_and_sharp_ones_do_not(fit: fishdown.Fit) -> None:
    vague = with_evidence(fit, 0.1, 0.8)
    spot = blind_spot(vague, 0)
    assert spot is not None
    assert spot.noticed < 0.1
    assert spot.fewer == pytest.approx((1.0 - LOST) ** (0.64 / 0.65))
    assert spot.fewer * spot.more == pytest.approx(1.0)
    assert blind_spot(with_evidence(fit, 0.05, 0.05), 0) is None


def test_the_caution_says_what_would_be_left(fit: fishdown.Fit) -> None:
    vague = with_evidence(fit, 0.1, 0.8)
    before, after = vague.verdicts(despite_gate=True)["caution"]
    assert after.startswith(
        "This statement relies on the marks: the catches are too uncertain to test"
    )
    drawn, spot = vague.quantities.isel(season=0), blind_spot(vague, 0)
    assert spot is not None
    removed = (drawn["abundance_before"] - drawn["abundance_after"]).values.ravel()[0]
    fish = drawn["abundance_before"].values
    weight = drawn["biomass_before"].values / fish
    left = np.median(np.maximum(spot.fewer * fish - removed, 0.0) * weight)
    assert f"the lake would hold {left:.3g} kg/ha" in after.replace(",", "")
    full = np.median(spot.fewer * fish * weight)
    assert f"the lake would hold {full:.3g} kg/ha" in before.replace(",", "")


def test_models_that_doubt_the_marks_need_no_caution(fit: fishdown.Fit) -> None:
    vague = with_evidence(fit, 0.1, 0.8)
    for model in ("lost_marks", "shy_marks"):
        doubting = replace(vague, spec=fishdown.read_model(model))
        assert blind_spot(doubting, 0) is None


def test_marks_without_catches_are_never_checked(fit: fishdown.Fit, tmp_path: Path) -> None:
    tree = xr.DataTree.from_dict({name: fit.tree[name] for name in fit.tree if name != "evidence"})
    alone = replace(fit, spec=textbook("marks_only"), tree=tree)
    spot = blind_spot(alone, 0)
    assert spot is not None
    assert np.isnan(spot.noticed)
    assert spot.fewer == pytest.approx(1.0 - LOST)
    assert "there are no catches to test" in alone.verdicts(despite_gate=True)["caution"].iloc[1]
    assert blind_spot(replace(fit, tree=tree), 0) is None
