"""A season in which no fish was weighed borrows where it can and says so, or says nothing."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import xarray as xr
from fake_fits import independent
from field_records import daily_pulls

import fishdown
from fishdown import Fit
from fishdown.models.data import fitting_spec
from fishdown.posterior.quantities import reported_quantities

DIMENSIONS = ("chain", "draw", "season")


def test_an_unweighed_lake_beside_a_weighed_one(folder_of: Callable[..., Path]) -> None:
    campaign = fishdown.read(
        folder_of(
            lakes=[{"lake": name, "area_ha": 5} for name in ("Weighed", "Unweighed")],
            pulls=[*daily_pulls("Weighed", [79, 28]), *daily_pulls("Unweighed", [79, 28])],
            measured=[
                {"date": "2024-06-01", "lake": "Weighed", "weight_kg": weight}
                for weight in (1.9, 2.3, 2.6, 3.0)
            ],
        )
    )
    fit = fishdown.fit(campaign, "few_passes")
    assert fit.passed
    verdicts = fit.verdicts().set_index(["lake", "when"])
    assert verdicts.loc[("Weighed", "after"), "probability_below"] > 0.5
    unweighed = verdicts.loc[("Unweighed", "after")]
    assert np.isnan(unweighed["probability_below"])
    assert (
        "no fish was weighed, so biomass density (kg/ha) cannot be estimated"
        in unweighed["statement"]
    )
    estimates = fit.estimates().groupby("lake")["quantity"].agg(set)
    assert "biomass_after" in estimates["Weighed"]
    assert not {"biomass_after", "mean_weight"} & estimates["Unweighed"]
    assert set(fit.removals()["lake"]) == {"Weighed"}


def test_an_unweighed_year_borrows_from_its_lake_and_says_so(
    folder_of: Callable[..., Path],
) -> None:
    weights = np.linspace(1.6, 3.2, 40)
    campaign = fishdown.read(
        folder_of(
            lakes=[{"lake": name, "area_ha": 5} for name in ("Two Years", "Unweighed")],
            pulls=[
                *daily_pulls("Two Years", [79, 28]),
                *daily_pulls("Two Years", [50, 20], start="2025-06-01"),
                *daily_pulls("Unweighed", [79, 28]),
            ],
            measured=[
                {"date": "2024-06-01", "lake": "Two Years", "weight_kg": round(weight, 3)}
                for weight in weights
            ],
        )
    )
    fit = fishdown.fit(campaign, "few_passes")
    assert fit.passed
    estimates = fit.estimates().set_index(["lake", "season", "quantity"])
    weighed, borrowed = (
        estimates.loc[("Two Years", year, "mean_weight")] for year in ("2024", "2025")
    )
    assert abs(borrowed["median"] / weights.mean() - 1) < 0.05
    # Borrowed with the spread between years (prior 0.15), beside a standard error of 0.03.
    ratio = (borrowed["high"] - borrowed["low"]) / (weighed["high"] - weighed["low"])
    assert ratio > 3.0
    assert ("Unweighed", "2024", "mean_weight") not in estimates.index
    said = fit.verdicts().set_index(["lake", "season", "when"])["statement"]
    words = "No fish was weighed here: the mean weight comes from the lake's other seasons."
    assert words in said.loc[("Two Years", "2025", "after")]
    assert "No fish was weighed here" not in said.loc[("Two Years", "2024", "after")]
    assert "biomass density (kg/ha) cannot be estimated" in said.loc[("Unweighed", "2024", "after")]


@pytest.mark.parametrize(
    ("model", "lake", "words"),
    [
        ("one_lake", "Mere", "is predicted from the lengths of 3 fish."),
        ("pooled_lakes", "Mere", "is predicted from the lengths of 3 fish."),
        ("one_lake", "Pond", "comes from the lake's other seasons."),
        ("pooled_lakes", "Pond", "comes from the lake's other seasons and the other lakes."),
        ("pooled_lakes", "Broad", "comes from the other lakes."),
        ("one_lake", "Broad", ""),
    ],
)
def test_what_the_statement_says_of_a_mean_weight(
    folder_of: Callable[..., Path], model: str, lake: str, words: str
) -> None:
    """Pond and Mere were weighed in 2024; in 2025 Pond's fish were not measured, Mere's only so."""
    day, next_year = "2024-06-01", "2025-06-01"
    campaign = fishdown.read(
        folder_of(
            lakes=[{"lake": name, "area_ha": 5} for name in ("Pond", "Mere", "Broad")],
            pulls=[
                pull
                for name in ("Pond", "Mere", "Broad")
                for date in (day, next_year)
                for pull in daily_pulls(name, [79, 28], start=date)
            ],
            measured=[
                *(
                    {"date": day, "lake": name, "length_mm": mm, "weight_kg": 1.4e-8 * mm**3}
                    for name in ("Pond", "Mere")
                    for mm in range(480, 600, 20)
                ),
                *({"date": next_year, "lake": "Mere", "length_mm": mm} for mm in (500, 520, 560)),
            ],
        )
    )
    spec, _ = fitting_spec(campaign, fishdown.read_model(model))
    drawn = xr.Dataset(
        {
            "abundance": (DIMENSIONS, independent((4, 500, 6), middle=900.0)),
            "mean_weight": (DIMENSIONS, independent((4, 500, 6), 2, 2.0, 0.05)),
            "net_selectivity": (DIMENSIONS[:2], np.ones((4, 500))),
            "weight_trend": (DIMENSIONS[:2], np.zeros((4, 500))),
        }
    )
    tree = xr.DataTree.from_dict(
        {
            "quantities": reported_quantities(drawn, campaign, spec),
            "sample_stats": xr.Dataset({"diverging": (("chain", "draw"), np.zeros((4, 500)))}),
        }
    )
    said = Fit(campaign, spec, tree, {}).verdicts().set_index(["lake", "season", "when"])
    statement = said.loc[(lake, "2025", "after"), "statement"]
    if words:
        assert statement.endswith(f"No fish was weighed here: the mean weight {words}")
    else:
        assert "no fish was weighed, so biomass density (kg/ha) cannot be estimated" in statement
    assert "No fish was weighed" not in said.loc[("Pond", "2024", "after"), "statement"]
