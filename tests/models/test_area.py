"""The area of a lake by date: in the hazard of its pulls, and in what is said of it."""

from __future__ import annotations

from collections.abc import Callable
from math import comb
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
import xarray as xr
from field_records import daily_pulls
from graph_points import hazards_of_graph, values_of_graph
from scipy import stats

import fishdown
from fishdown.models.data import fitting_spec, model_data
from fishdown.models.parts.catch import catch_log_density
from fishdown.posterior.at_draws import thinned
from fishdown.posterior.pull_hazard import pull_hazard
from fishdown.posterior.quantities import reported_quantities
from fishdown.records.areas import area_on

# On the first pull, between, and after the last one; the water falls.
FALLING = [("2024-06-01", 24.0), ("2024-06-05", 16.0)]
CATCHES = {"Alder": [40, 31, 25, 9, 12, 8, 5], "Birch": [9, 4, 14, 3]}
USUAL = {"Alder": 20.0, "Birch": 45.0}


@pytest.fixture(scope="module")
def campaign_with(shared_folder_of: Callable[..., Path]) -> Callable[..., fishdown.Campaign]:
    def made(areas: list[tuple[str, float]], lake: str = "Alder") -> fishdown.Campaign:
        by_date = [{"date": date, "lake": lake, "area_ha": area} for date, area in areas]
        return fishdown.read(
            shared_folder_of(
                lakes=[{"lake": name, "area_ha": area} for name, area in USUAL.items()],
                pulls=[
                    row for name, caught in CATCHES.items() for row in daily_pulls(name, caught)
                ],
                measured=[{"date": "2024-06-01", "lake": "Alder", "weight_kg": 2.0}],
                **({"areas": by_date} if by_date else {}),
            )
        )

    return made


def fitted(campaign: fishdown.Campaign, model: str = "pooled_lakes", **parts: str) -> Any:
    asked = fishdown.read_model(model).with_parts(evidence="depletion", **parts)
    return fitting_spec(campaign, asked)[0]


def test_area_is_linear_in_time_between_entries_and_constant_outside() -> None:
    areas = pd.DataFrame(
        {
            "date": pd.to_datetime(["2024-06-11", "2024-06-01"]),
            "lake": ["Alder", "Alder"],
            "area_ha": [10.0, 20.0],
        }
    )
    days = [
        "2024-05-01",
        "2024-06-01",
        "2024-06-04",
        "2024-06-11",
        "2025-01-01",
        None,
        "2024-06-04",
    ]
    lakes = pd.Series(["Alder"] * 6 + ["Birch"])
    found = area_on(areas, lakes, pd.Series(pd.to_datetime(days)), {"Alder": 15.0, "Birch": 7.0})
    assert found == pytest.approx([20.0, 20.0, 17.0, 10.0, 10.0, 15.0, 7.0], rel=1e-15)


def test_a_campaign_has_the_area_of_its_pulls_and_of_its_ends(campaign_with: Any) -> None:
    campaign = campaign_with(FALLING)
    alder = campaign.pulls["season_index"].values == 0
    ratio = campaign.pulls["relative_area"].values
    assert ratio[alder] == pytest.approx([1.2, 1.1, 1.0, 0.9, 0.8, 0.8, 0.8], rel=1e-15)
    assert (ratio[~alder] == 1.0).all()
    assert campaign.seasons["area_before"].values.tolist() == [24.0, 45.0]
    assert campaign.seasons["area_after"].values.tolist() == [16.0, 45.0]


def test_without_areas_by_date_the_part_is_left_out_without_a_word(campaign_with: Any) -> None:
    campaign = campaign_with([])
    spec, notes = fitting_spec(campaign, fishdown.read_model("pooled_lakes"))
    assert spec.part("area") == "constant"
    assert not any("area" in note for note in notes)
    assert fitted(campaign_with(FALLING)).part("area") == "by_date"
    # One entry that is the usual area is no news.
    assert fitted(campaign_with([("2024-06-01", 20.0)])).part("area") == "constant"


@pytest.mark.parametrize("model", ["one_lake", "pooled_lakes"])
def test_equal_areas_give_the_same_density_to_the_last_digit(
    campaign_with: Any, model: str
) -> None:
    without = campaign_with([])
    entered = campaign_with([("2024-06-01", 20.0), ("2024-06-05", 20.0)])
    spec = fitted(without, model)
    assert spec.parts == fitted(entered, model).parts
    # Nor does the effect itself change anything once it is in the graph.
    kept = fitted(campaign_with(FALLING), model)
    assert kept.part("area") == "by_date"
    plain = graph_of(without, spec)
    point = plain.initial_point()
    rng = np.random.default_rng(3)
    point = {name: value + rng.normal(0.0, 0.3, np.shape(value)) for name, value in point.items()}
    expected = log_density(plain, point)
    assert log_density(graph_of(entered, spec), point) == expected
    assert log_density(graph_of(entered, kept), point) == pytest.approx(expected, rel=1e-15)
    assert log_density(graph_of(campaign_with(FALLING), kept), point) != pytest.approx(expected)


def graph_of(campaign: fishdown.Campaign, spec: fishdown.ModelSpec) -> Any:
    from fishdown.models.graph import build

    return build(spec, model_data(campaign, spec), campaign.coords)


def log_density(graph: Any, point: dict[str, Any]) -> float:
    return float(graph.compile_fn(graph.logp(), mode="FAST_COMPILE")(point))


def test_a_pull_fishes_the_same_area_of_a_smaller_lake(campaign_with: Any) -> None:
    # A worked example: c = 0.6 ha of 24 ha is a hazard of 0.025, of 16 ha one of 0.0375.
    campaign = campaign_with(FALLING)
    plain = {"nets": "alike", "nights": "alike", "drift": "none", "first_pulls": "alike"}
    spec = fitted(campaign, "one_lake", temperature="none", **plain)
    data = model_data(campaign, spec)
    posterior = xr.Dataset({"area_fished_ha": (("chain", "draw", "lake"), [[[0.6, 0.9]]])})
    hazard = pull_hazard(posterior, spec, data.area, data.catches.lake, data.effects)[0]
    by_hand = [0.6 / area for area in (24.0, 22.0, 20.0, 18.0, 16.0, 16.0, 16.0)]
    assert hazard == pytest.approx([*by_hand, *[0.9 / 45.0] * 4], rel=1e-12)
    # So do the catches: 40 fish of 700 in the first pull, by the binomial.
    terms = catch_log_density(np.array([40.0]), np.array([700.0]), hazard[:1], None)
    share = -np.expm1(-0.025)
    expected = stats.binom.logpmf(40, 700, share) - np.log(float(comb(700, 40)))
    assert terms == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize(("model", "exponent"), [("one_lake", None), ("pooled_lakes", 0.4)])
def test_the_graph_has_the_hazard_of_plain_numbers(
    campaign_with: Any, model: str, exponent: float | None
) -> None:
    campaign = campaign_with(FALLING)
    spec = fitted(campaign, model)
    posterior, _ = values_of_graph(campaign, spec)
    few = thinned(posterior)
    data = model_data(campaign, spec)
    plain = pull_hazard(few, spec, data.area, data.catches.lake, data.effects)
    assert hazards_of_graph(few, campaign, spec) == pytest.approx(plain, rel=1e-9)
    # Pooled lakes have one exponent, between lakes and within them.
    assert ("area_exponent" in posterior) == (exponent is not None)
    if exponent is not None:
        few["area_exponent"] = few["area_exponent"] * 0.0 + exponent
        moved = pull_hazard(few, spec, data.area, data.catches.lake, data.effects)
        flat = pull_hazard(
            few, spec.with_parts(area="constant"), data.area, data.catches.lake, data.effects
        )
        ratio = campaign.pulls["relative_area"].values
        assert moved / flat == pytest.approx(np.tile(ratio**-exponent, (3, 1)), rel=1e-9)


def test_density_is_that_of_the_area_on_the_day(campaign_with: Any) -> None:
    campaign, usual = campaign_with(FALLING), campaign_with([])
    spec = fitted(campaign, "one_lake")
    posterior, _ = values_of_graph(campaign, spec)
    there = reported_quantities(posterior, campaign, spec)
    flat = reported_quantities(posterior, usual, spec)
    for name, factor in (("before", 20.0 / 24.0), ("after", 20.0 / 16.0)):
        for what in ("density", "biomass"):
            found, plain = (one[f"{what}_{name}"].isel(season=0).values for one in (there, flat))
            assert found == pytest.approx(plain * factor, rel=1e-12)
    # The catchability of a lake is stated at its usual area.
    assert there["catchability_at_reference"].equals(flat["catchability_at_reference"])
