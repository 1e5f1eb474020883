"""Reported quantities from draws small enough to work out by hand."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import xarray as xr

import fishdown
from fishdown.posterior.quantities import quantities, reported_quantities

CHAINS, DRAWS = 2, 3


def two_lakes(folder_of: Callable[..., Path]) -> fishdown.Campaign:
    """Pond (2 ha) in two years and Mere (5 ha) in one; fish removed: 40, 20 and 30."""
    pulls = [
        ("2023-06-01", "Pond", 25),
        ("2023-06-02", "Pond", 15),
        ("2024-06-01", "Pond", 20),
        ("2023-06-01", "Mere", 20),
        ("2023-06-05", "Mere", 10),
    ]
    return fishdown.read(
        folder_of(
            lakes=[{"lake": "Pond", "area_ha": 2.0}, {"lake": "Mere", "area_ha": 5.0}],
            pulls=[
                {"date": date, "lake": lake, "net": "A", "caught": caught}
                for date, lake, caught in pulls
            ],
            measured=[{"date": "2023-06-01", "lake": "Pond", "weight_kg": 2.0}],
        )
    )


def draws(value: Any, dimension: str | None = None) -> xr.DataArray:
    """Repeat a value in every draw."""
    values = np.broadcast_to(np.asarray(value, dtype=float), (CHAINS, DRAWS, *np.shape(value)))
    return xr.DataArray(values, dims=("chain", "draw", *([dimension] if dimension else [])))


def test_by_hand(folder_of: Callable[..., Path]) -> None:
    campaign = two_lakes(folder_of)
    spec = fishdown.read_model("pooled_lakes").with_parts(weighed="at_random")
    posterior = xr.Dataset(
        {
            "abundance": draws([100.0, 50.0, 60.0], "season"),
            "area_fished_ha": draws([1.0, 0.5], "lake"),
            "temperature_effect": draws([0.5, 0.4], "lake"),
            "schooling": draws([0.7, 0.6], "lake"),
            "net_spread": draws(0.3),
            "mean_weight": draws([2.0, 3.0, 1.5], "season"),
        },
        coords={"lake": campaign.lakes["lake"], "season": campaign.seasons["season"]},
    )
    found = reported_quantities(posterior, campaign, spec)
    by_hand = {
        "abundance_before": [100.0, 50.0, 60.0],
        "abundance_after": [60.0, 30.0, 30.0],
        "removed_share": [0.4, 0.4, 0.5],
        "density_before": [50.0, 25.0, 12.0],
        "density_after": [30.0, 15.0, 6.0],
        # 1 − exp(−area fished / lake area)
        "catchability_at_reference": [0.39346934, 0.39346934, 0.09516258],
        "temperature_effect": [0.5, 0.5, 0.4],
        "schooling": [0.7, 0.7, 0.6],
        "net_spread": 0.3,
        "mean_weight": [2.0, 3.0, 1.5],
        "mean_weight_left": [2.0, 3.0, 1.5],
        "mean_weight_removed": [2.0, 3.0, 1.5],
        "biomass_before": [100.0, 75.0, 18.0],
        "biomass_after": [60.0, 45.0, 9.0],
    }
    assert set(found.data_vars) == set(by_hand)
    assert set(found.data_vars) <= set(quantities())
    for name, values in by_hand.items():
        assert found[name].isel(chain=1, draw=2).values == pytest.approx(values), name


def test_fish_left_are_not_the_fish_that_were_caught(folder_of: Callable[..., Path]) -> None:
    """Mass balance catch by catch: nets take fish of 1.2 times the mean, fish grow 3 % a month."""
    campaign = two_lakes(folder_of)
    spec = fishdown.read_model("pooled_lakes")
    posterior = xr.Dataset(
        {
            "abundance": draws([100.0, 50.0, 60.0], "season"),
            "area_fished_ha": draws([1.0, 0.5], "lake"),
            "mean_weight": draws([2.0, 3.0, 1.5], "season"),
            "net_selectivity": draws(1.2),
            "weight_trend": draws(0.03),
        },
        coords={"lake": campaign.lakes["lake"], "season": campaign.seasons["season"]},
    )
    found = reported_quantities(posterior, campaign, spec)
    # N (N / N₀)^0.2 is what is left of the mass but for growth: pulls of 25, 15 and 20, 20 and 10.
    mass = {
        "Pond 2023": [100.0, 75.0, 60.0],
        "Pond 2024": [50.0, 30.0],
        "Mere 2023": [60.0, 40.0, 30.0],
    }
    days = {"Pond 2023": [0, 1], "Pond 2024": [0], "Mere 2023": [0, 4]}
    for season, (name, fish) in enumerate(mass.items()):
        weight = [2.0, 3.0, 1.5][season]
        kg = [n * weight * (n / fish[0]) ** 0.2 for n in fish]
        growth = np.exp(0.03 * np.array(days[name]) / 30.0)
        one = found.isel(chain=1, draw=2, season=season)
        assert float(one["mean_weight"]) == pytest.approx(weight)
        assert float(one["mean_weight_left"]) == pytest.approx(kg[-1] / fish[-1] * growth[-1])
        area = 5.0 if name.startswith("Mere") else 2.0
        assert float(one["biomass_before"]) == pytest.approx(fish[0] * weight / area)
        assert float(one["biomass_after"]) == pytest.approx(kg[-1] * growth[-1] / area)
        removed = (-np.diff(kg) * growth).sum() / (fish[0] - fish[-1])
        assert float(one["mean_weight_removed"]) == pytest.approx(removed)
    assert float(found["net_selectivity"].isel(chain=0, draw=0)) == 1.2
    assert found["net_selectivity"].dims == ("chain", "draw")


def test_labels(folder_of: Callable[..., Path]) -> None:
    campaign = two_lakes(folder_of)
    posterior = xr.Dataset(
        {
            "abundance": draws([100.0, 50.0, 60.0], "season"),
            "area_fished_ha": draws([1.0, 0.5], "lake"),
        },
        coords={"lake": campaign.lakes["lake"], "season": campaign.seasons["season"]},
    )
    spec = fishdown.read_model("pooled_lakes").with_parts(weights="none")
    found = reported_quantities(posterior, campaign, spec)
    assert found["season"].values.tolist() == ["Pond 2023", "Pond 2024", "Mere 2023"]
    assert "biomass_after" not in found
    for name, array in found.data_vars.items():
        assert array.dims == ("chain", "draw", "season"), name
        assert array.attrs["units"] == quantities()[str(name)].cf_unit
        assert array.attrs["long_name"] == quantities()[str(name)].meaning


def test_catchability_of_a_lake_and_none_from_marks_alone(
    folder_of: Callable[..., Path],
) -> None:
    campaign = two_lakes(folder_of)
    posterior = xr.Dataset(
        {
            "abundance": draws([100.0, 50.0, 60.0], "season"),
            "catchability": draws([0.3, 0.1], "lake"),
            "mean_weight": draws([2.0, 3.0, 1.5], "season"),
        }
    )
    found = reported_quantities(posterior, campaign, fishdown.read_model("few_passes"))
    assert found["catchability_at_reference"].isel(chain=0, draw=0).values.tolist() == [
        0.3,
        0.3,
        0.1,
    ]
    alone = posterior.drop_vars("catchability")
    found = reported_quantities(alone, campaign, fishdown.read_model("marks_only"))
    assert "catchability_at_reference" not in found
    assert "schooling" not in found


def test_what_is_reported_is_whole_fish(folder_of: Callable[..., Path]) -> None:
    """The sampler may stand half a fish below what was caught: three pulls of one fish each."""
    lake = {"lake": "Pond", "area_ha": 2.0}
    pulls = [
        {"date": f"2024-06-0{day}", "lake": "Pond", "net": "A", "caught": 1} for day in (1, 2, 3)
    ]
    campaign = fishdown.read(folder_of(lakes=[lake], pulls=pulls))
    sampled = np.array([2.5001, 2.7, 3.4, 3.6, 17.0, 40.5]).reshape(CHAINS, DRAWS, 1)
    posterior = xr.Dataset({"abundance": (("chain", "draw", "season"), sampled)})
    spec = fishdown.read_model("few_passes").with_parts(weights="none")
    found = reported_quantities(posterior, campaign, spec)
    assert found["abundance_before"].values.ravel().tolist() == [3.0, 3.0, 3.0, 4.0, 17.0, 41.0]
    assert found["abundance_after"].values.ravel().tolist() == [0.0, 0.0, 0.0, 1.0, 14.0, 38.0]
    assert found["removed_share"].values.max() == 1.0
    assert found["density_after"].values.min() == 0.0


def test_nothing_is_removed_of_no_fish(folder_of: Callable[..., Path]) -> None:
    lake = {"lake": "Pond", "area_ha": 2.0}
    pulls = [{"date": f"2024-06-0{day}", "lake": "Pond", "net": "A", "caught": 0} for day in (1, 2)]
    campaign = fishdown.read(folder_of(lakes=[lake], pulls=pulls))
    posterior = xr.Dataset({"abundance": draws([0.2], "season")})
    spec = fishdown.read_model("few_passes").with_parts(weights="none")
    found = reported_quantities(posterior, campaign, spec)
    assert not found["abundance_before"].values.any()
    assert not found["removed_share"].values.any()
