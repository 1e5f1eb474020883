"""The sampled posterior against plain enumeration over whole numbers of fish."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from enumeration import exact_abundance
from field_records import daily_pulls
from textbook import textbook

import fishdown
from fishdown.models.spec import ModelSpec
from fishdown.posterior.sampling import SamplerSettings

MANY_DRAWS = SamplerSettings(draws=20_000, tune=2_000, seed=11)


def small_season(folder_of: Callable[..., Path]) -> fishdown.Campaign:
    """Five pulls out of a pond: 19 of the 24 marked fish come back."""
    return fishdown.read(
        folder_of(
            lakes=[{"lake": "Pond", "area_ha": 2.0}],
            pulls=daily_pulls("Pond", [38, 12, 21, 9, 6], recaptured=[8, 3, 4, 3, 1]),
            marked=[
                {
                    "date": "2024-05-02",
                    "lake": "Pond",
                    "batch": "b",
                    "mark": "fin_clip",
                    "released": 24,
                }
            ],
        )
    )


def spec_for(name: str, evidence: str) -> ModelSpec:
    return textbook(name).with_parts(
        first_pulls="alike", evidence=evidence, temperature="none", weights="none", pooling="none"
    )


@pytest.mark.parametrize(
    ("name", "evidence", "largest"),
    [
        ("one_lake", "marks", 600),
        ("few_passes", "depletion", 3_000),
        ("one_lake", "both", 600),
        ("few_passes", "both", 600),
    ],
)
def test_posterior_equals_enumeration(
    folder_of: Callable[..., Path], name: str, evidence: str, largest: int
) -> None:
    campaign = small_season(folder_of)
    spec = spec_for(name, evidence)
    N, exact = exact_abundance(campaign, spec, largest=largest)
    assert exact[-1] < 1e-6  # the enumeration went far enough
    fit = fishdown.fit(campaign, spec, settings=MANY_DRAWS, compare_evidence=False)
    assert fit.quality.passed
    draws = np.rint(fit.quantities["abundance_before"].values.ravel()).astype(int)
    sampled = np.array([(draws == number).mean() for number in N])
    assert 0.5 * (np.abs(sampled - exact).sum() + (draws > largest).mean()) < 0.03
    assert draws.mean() == pytest.approx(N @ exact, rel=0.01)


def test_depletion_by_schools_equals_enumeration(folder_of: Callable[..., Path]) -> None:
    """Schools hide depletion: the tail is too long to enumerate, so both are cut at 600 fish."""
    campaign = small_season(folder_of)
    spec = spec_for("one_lake", "depletion")
    N, exact = exact_abundance(campaign, spec, largest=600, share_points=150, schooling_points=25)
    fit = fishdown.fit(campaign, spec, settings=MANY_DRAWS, compare_evidence=False)
    assert fit.quality.passed
    draws = np.rint(fit.quantities["abundance_before"].values.ravel()).astype(int)
    draws = draws[draws <= 600]
    sampled = np.array([(draws == number).mean() for number in N])
    assert 0.5 * np.abs(sampled - exact).sum() < 0.03
    assert draws.mean() == pytest.approx(N @ exact, rel=0.01)
