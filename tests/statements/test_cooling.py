"""Temperature in words, from handmade draws."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import xarray as xr
from fake_fits import POND, Lake, fake_fit, independent

import fishdown
from fishdown import Fit
from fishdown.statements.cooling import compared_temperatures

# The contract of the table of cooling.
COLUMNS = (
    "lake", "cold_c", "warm_c", "factor_median", "factor_low", "factor_high", "half_median_c",
    "half_low_c", "half_high_c", "coldest_pull_c", "warmest_pull_c", "beyond_pulls", "gate",
    "statement"
)  # fmt: skip

MERE: Lake = ("Mere", 30.0, 100.0)


def fit_with(readings: dict[str, list[float]], effect: float = 0.3, divergences: int = 0) -> Fit:
    """Fit whose lakes keep `effect` of their hazard 10 °C below 20 °C, give or take."""
    lakes = [(name, 10.0, 100.0) for name in readings]
    draws = effect * np.exp(independent(spread=0.2))
    made = fake_fit(
        {"abundance_before": 500.0 + independent(spread=20.0), "temperature_effect": draws},
        lakes=lakes,
        divergences=divergences,
    )
    temperature = [one for values in readings.values() for one in values]
    season = np.repeat(np.arange(len(lakes)), [len(values) for values in readings.values()])
    # As in the fake campaign, marked fish are at large and looked for: a verdict can be given.
    fish = {
        "caught": 50.0,
        "examined": 50.0,
        "removed": 50.0,
        "recaptured": 2.0,
        "marks_at_large": 20.0,
    }
    pulls = xr.Dataset(
        {name: ("pull", np.full(len(season), number)) for name, number in fish.items()}
        | {
            "season_index": ("pull", season),
            "temperature": ("pull", np.array(temperature)),
            "spoiled": ("pull", np.zeros(len(season), dtype=bool)),
        }
    )
    tree = made.tree.copy()
    by_lake = np.repeat(draws[:, :, None], len(lakes), axis=2)
    tree["posterior"] = xr.DataTree(
        xr.Dataset({"temperature_effect": (("chain", "draw", "lake"), by_lake)})
    )
    return replace(made, campaign=replace(made.campaign, pulls=pulls), tree=tree)


def test_a_lake_that_saw_cold_and_warm_water() -> None:
    row = fit_with({"Pond": [22.4, 15.0, 8.3]}).cooling().iloc[0]
    assert (row["cold_c"], row["warm_c"]) == (10.0, 20.0)
    assert row["factor_median"] == pytest.approx(0.3, rel=0.02)
    assert row["factor_low"] == pytest.approx(0.3 * np.exp(-1.645 * 0.2), rel=0.03)
    assert row["statement"].startswith("In Pond, catchability at 10 °C is 0.")
    assert "that at 20 °C; its pulls span 8.3 to 22.4 °C." in row["statement"]
    assert not row["beyond_pulls"]
    assert np.isnan(row["half_median_c"])


def test_nothing_is_said_of_water_colder_than_the_pulls() -> None:
    row = fit_with({"Pond": [22.4, 14.2]}).cooling().iloc[0]
    assert (row["cold_c"], row["warm_c"]) == (15.0, 20.0)
    assert row["factor_median"] == pytest.approx(np.sqrt(0.3), rel=0.02)
    assert "at 15 °C" in row["statement"]
    assert "and no statement is made on colder water" in row["statement"]


def test_extrapolation_is_named() -> None:
    found = fit_with({"Pond": [20.0, 19.0], "Mere": [np.nan], "Tarn": [21.0, 9.0]}).cooling()
    narrow, none, wide = found["statement"]
    assert found["beyond_pulls"].tolist() == [True, True, False]
    assert "its pulls span 19.0 to 20.0 °C, so this ratio comes from the other lakes" in narrow
    assert "no water temperature was recorded at its pulls, so this ratio" in none
    assert "answer" not in wide
    alone = fit_with({"Pond": [20.0, 19.0]}).cooling()["statement"].iloc[0]
    assert alone.endswith("so this ratio comes from the prior.")


def test_temperature_of_half_effect() -> None:
    made = fit_with({"Pond": [22.0, 8.0], "Mere": [22.0, 15.0]})
    spec = fishdown.read_model("detailed_nets")
    half = 13.0 + independent(seed=4)
    tree = made.tree.copy()
    shape = (*half.shape, 2)
    posterior = {
        "threshold_temperature": (
            ("chain", "draw", "lake"),
            np.broadcast_to(half[..., None], shape),
        ),
        "threshold_width": (("chain", "draw"), np.full(half.shape, 2.0)),
    }
    tree["posterior"] = xr.DataTree(xr.Dataset(posterior))
    by_season = np.broadcast_to(half[..., None], shape)
    quantities = made.quantities.assign(
        threshold_temperature=(("chain", "draw", "season"), by_season)
    )
    tree["quantities"] = xr.DataTree(quantities)
    inside, outside = replace(made, spec=spec, tree=tree).cooling().itertuples()
    assert inside.half_median_c == pytest.approx(13.0, abs=0.1)
    assert inside.half_low_c == pytest.approx(13.0 - 1.645, abs=0.15)
    assert "half of its warm-water value at 13.0 °C (90 % interval 11." in inside.statement
    expected = (1 + np.exp(-7 / 2)) / (1 + np.exp(3 / 2))
    assert inside.factor_median == pytest.approx(expected, rel=0.05)
    assert outside.statement.endswith("outside the temperature range of its pulls.")


def test_withheld_where_a_gate_failed() -> None:
    made = fit_with({"Pond": [22.4, 8.3]}, divergences=3)
    row = made.cooling().iloc[0]
    assert row["statement"].startswith(
        "Temperature effect withheld for Pond: 3 divergent transitions"
    )
    assert np.isnan(row["factor_median"])
    shown = made.cooling(despite_gate=True).iloc[0]
    assert shown["statement"].startswith(
        "WARNING, the gate failed (3 divergent transitions): In Pond, catchability at 10"
    )


def test_no_row_without_temperature() -> None:
    made = fake_fit({"abundance_before": 500.0 + independent()}, lakes=[POND, MERE])
    spec = fishdown.read_model("pooled_lakes").with_parts(temperature="none")
    found = replace(made, spec=spec).cooling()
    assert list(found.columns) == list(COLUMNS)
    assert not len(found)


@pytest.mark.parametrize(
    ("coldest", "warmest", "expected"),
    [
        (8.0, 25.0, (10.0, 20.0, False)),
        (12.3, 18.7, (13.0, 18.0, False)),
        (21.0, 27.5, (21.0, 27.0, False)),
        (2.2, 9.9, (3.0, 9.0, False)),
        (14.0, 16.9, (10.0, 20.0, True)),
        (np.nan, np.nan, (10.0, 20.0, True)),
    ],
)
def test_temperatures_that_are_compared(
    coldest: float, warmest: float, expected: tuple[float, float, bool]
) -> None:
    assert compared_temperatures(20.0, coldest, warmest) == expected
