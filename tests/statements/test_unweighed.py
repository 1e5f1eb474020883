"""A season in which no fish was weighed says nothing of kg/ha, unless lakes are pooled."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
from field_records import daily_pulls

import fishdown


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
    assert "no fish was weighed, so nothing can be said of kg/ha" in unweighed["statement"]
    estimates = fit.estimates().groupby("lake")["quantity"].agg(set)
    assert "biomass_after" in estimates["Weighed"]
    assert not {"biomass_after", "mean_weight"} & estimates["Unweighed"]
    assert set(fit.removals()["lake"]) == {"Weighed"}
