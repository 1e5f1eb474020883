"""A winter in which nothing happens: two years of one closed population are one long season."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from field_records import daily_pulls, write_folder
from textbook import textbook

import fishdown
from fishdown.checks.marks_alone import marks_alone
from fishdown.models.parts.counting.counts import counting_terms
from fishdown.models.parts.counting.season import CountingModel
from fishdown.models.priors import Prior
from fishdown.posterior.sampling import SamplerSettings

# All fish and marks live, none is born, no year differs.
NOTHING_HAPPENS = {
    "survival": Prior("beta", (2000.0, 1.0)),
    "overwinter_retention": Prior("beta", (2000.0, 1.0)),
    "replacement": Prior("lognormal", (0.01, 0.1)),
    "winter_spread": Prior("lognormal", (0.02, 0.1)),
    "process_error": Prior("lognormal", (0.02, 0.1)),
}


def test_two_years_without_change_are_one_season(
    folder_of: Callable[..., Path], tmp_path: Path
) -> None:
    lakes = [{"lake": "Alder", "area_ha": 20}]
    marked = [
        {"date": "2021-05-01", "lake": "Alder", "batch": "b", "mark": "fin_clip", "released": 60}
    ]
    caught, seen = [60, 45, 50, 55, 40, 38], [5, 4, 3, 4, 5, 2]
    one = fishdown.read(
        folder_of(
            lakes=lakes,
            marked=marked,
            pulls=daily_pulls("Alder", caught, recaptured=seen, start="2021-06-01"),
        )
    )
    two = fishdown.read(
        write_folder(
            tmp_path / "two",
            lakes=lakes,
            marked=marked,
            pulls=[
                *daily_pulls("Alder", caught[:3], recaptured=seen[:3], start="2021-06-01"),
                *daily_pulls("Alder", caught[3:], recaptured=seen[3:], start="2022-06-01"),
            ],
        )
    )
    spec = textbook("many_years").with_parts(
        evidence="marks", weights="none", lengths="none", sizes="by_season", temperature="none",
        seasons="alike", pooling="none",
    )  # fmt: skip
    spec = replace(spec, priors={**spec.priors, **NOTHING_HAPPENS})
    settings = SamplerSettings(draws=2000, tune=2000, chains=2, seed=3, target_accept=0.98)
    fit = fishdown.fit(two, spec, settings=settings)
    found = fit.quantities["abundance_before"].isel(season=0).values
    expected = marks_alone(
        counting_terms(one, 0, CountingModel("marks")), spec.priors["density"], 20.0
    )
    # Some 400 effective draws leave a standard error of 1 % of the median, more in the tails.
    for probability, tolerance in ((0.05, 0.04), (0.5, 0.03), (0.95, 0.06)):
        exact = expected.quantile(np.array([probability]))[0]
        assert np.quantile(found, probability) == pytest.approx(exact, rel=tolerance)
