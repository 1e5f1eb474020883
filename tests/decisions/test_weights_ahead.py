"""What invented fish weigh as they are netted, and what pulls to come take of them."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from drawn_fits import drawn_fit, records

from fishdown.worlds import LakeTruth, World, simulate

LAKE = LakeTruth("Lake", 20.0, 4_000, area_fished_ha=1.0, mean_weight=2.0)


def known(world: World, seed: int) -> tuple[dict[str, float], np.ndarray]:
    campaign, truth = simulate(world, np.random.default_rng(seed))
    return dict(zip(truth["quantity"], truth["value"], strict=True)), campaign.fish["weight"].values


def test_a_plain_world_leaves_the_fish_that_it_had() -> None:
    found, _ = known(World((LAKE,)), 1)
    assert found["mean_weight_left"] == found["mean_weight"] == 2.0


def test_nets_that_take_larger_fish_leave_smaller_ones() -> None:
    """Catch by catch; with small catches (N / N₀)^(s − 1), which 10 % selectivity shows to 1 %."""
    found, weights = known(World((LAKE,), net_selectivity=1.1, schooling=0.2, weighed=4_000), 1)
    share = found["abundance_after"] / found["abundance_before"]
    assert share < 0.5
    assert found["mean_weight_left"] / 2.0 == pytest.approx(share**0.1, rel=0.01)
    assert found["biomass_after"] == pytest.approx(
        found["abundance_after"] * found["mean_weight_left"] / 20.0
    )
    # Fish of the catches, from the first to the last.
    error = 0.37 * 2.1 / np.sqrt(4_000)
    assert 2.2 * share**0.1 - 4.0 * error < weights.mean() < 2.2 + 4.0 * error


def test_growth_and_electrofishing() -> None:
    world = World((LAKE,), weight_trend=0.05, electrofishing_selectivity=0.8, weighed=6_000,
                  weighed_at_marking=0.5)  # fmt: skip
    found, _ = known(world, 2)
    campaign, _ = simulate(world, np.random.default_rng(2))
    days = np.ptp(campaign.pulls["date"].values) / np.timedelta64(1, "D")
    assert found["mean_weight_left"] == pytest.approx(2.0 * np.exp(0.05 * days / 30.0))
    at_marking = campaign.fish["net"].values == ""
    assert at_marking.sum() == 3_000
    mean = campaign.fish["weight"].values[at_marking].mean()
    assert mean == pytest.approx(2.0 * 0.8 * np.exp(-0.05), rel=4.0 * 0.37 / np.sqrt(3_000))


def test_pulls_to_come_go_on_to_select(tmp_path: Path) -> None:
    fit = drawn_fit(records(tmp_path / "r"))
    (lake,) = fit.ahead(6).lakes
    s = fit.quantities["net_selectivity"].values[:, :, None]
    assert lake.weight is not None
    assert lake.kg is not None
    assert lake.biomass is not None
    share = np.maximum(lake.fish, 1.0) / np.maximum(lake.fish[:, :, :1], 1.0)
    np.testing.assert_allclose(lake.weight, lake.weight[:, :, :1] * share ** (s - 1.0))
    np.testing.assert_allclose(
        lake.biomass[:, :, 0], fit.quantities["biomass_after"].isel(season=0).values
    )
    # What the catches weigh is what the lake no longer holds.
    some = lake.fish[:, :, 1:].min(axis=2) >= 1.0
    assert some.mean() > 0.9
    gone = -np.diff(lake.biomass, axis=2) * lake.area
    np.testing.assert_allclose(lake.kg[some], gone[some], atol=1e-8)
