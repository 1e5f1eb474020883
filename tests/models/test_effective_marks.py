"""Effective marks: their graph against SciPy's noncentral hypergeometric, and marks only."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from field_records import daily_pulls
from graph_points import values_of_graph
from scipy import stats

import fishdown
from fishdown.checks.effective_marks_alone import effective_marks, log_likelihoods
from fishdown.checks.marks_alone import marks_of_seasons
from fishdown.errors import ModelFileError
from fishdown.models.data import fitting_spec
from fishdown.models.parts.marks.pens import pens
from fishdown.models.parts.marks.release_groups import kinds_at_large

CATCHES, SEEN = [40, 31, 25, 9, 12, 30], [4, 2, 3, 0, 1, 5]
MARKS = (("fin_clip", 30), ("pit_tag", 20), ("both", 10))


@pytest.fixture(scope="module")
def campaign(shared_folder_of: Callable[..., Path]) -> fishdown.Campaign:
    return fishdown.read(
        shared_folder_of(
            lakes=[{"lake": "Alder", "area_ha": 20}],
            pulls=daily_pulls("Alder", CATCHES, recaptured=SEEN),
            marked=[
                {"date": "2024-05-01", "lake": "Alder", "batch": mark, "mark": mark, "released": n}
                for mark, n in MARKS
            ],
        )
    )


def spec_for(campaign: fishdown.Campaign, **parts: str) -> fishdown.ModelSpec:
    parts = {"natural_deaths": "none", **parts}
    return fitting_spec(campaign, fishdown.read_model("one_lake").with_parts(**parts))[0]


def test_a_mark_counts_by_its_kind_its_fish_and_its_odds(campaign: fishdown.Campaign) -> None:
    posterior, _ = values_of_graph(campaign, spec_for(campaign))
    c, t, alive = (
        posterior[name].values[0, :, 0]
        for name in ("clip_retention", "tag_retention", "post_release_survival")
    )
    retained = (30 * c + 20 * t + 10 * (1 - (1 - c) * (1 - t))) / 60
    expected = retained * alive * posterior["capture_odds_ratio"].values[0, :, 0]
    assert posterior["effective_marks"].values[0, :, 0] == pytest.approx(expected)


def test_recaptures_are_those_of_the_noncentral_hypergeometric(
    campaign: fishdown.Campaign,
) -> None:
    """Fisher (1935), by SciPy."""
    spec = spec_for(campaign, recaptures="random")
    posterior, potentials = values_of_graph(campaign, spec)
    posterior["abundance"] = posterior["abundance"].round()
    ratio = posterior["effective_marks"].values[0, :, 0]
    marks = 60 - np.cumsum([0, *SEEN[:-1]])
    for draw, found in enumerate(potentials["recaptures"]):
        fish = posterior["abundance"].values[0, draw, 0] - np.cumsum([0, *CATCHES[:-1]])
        expected = sum(
            stats.nchypergeom_fisher.logpmf(R, int(N), M, C, ratio[draw])
            for R, N, M, C in zip(SEEN, fish, marks, CATCHES, strict=True)
        )
        # The graph has parts of a fish.
        assert found == pytest.approx(expected, rel=0.01)


def test_marks_only_sums_over_how_much_a_mark_counts(campaign: fishdown.Campaign) -> None:
    """Against a sum over draws of the prior with SciPy's distribution."""
    spec, pen = spec_for(campaign, recaptures="random"), pens(campaign).of_lake(0)
    numbers = np.array([400.0, 800.0, 1_600.0])
    found = log_likelihoods(campaign, spec)(0, np.geomspace(200.0, 4_000.0, 400))
    found = np.interp(numbers, np.geomspace(200.0, 4_000.0, 400), found)
    marks = 60 - np.cumsum([0, *SEEN[:-1]])
    expected = []
    for number in numbers:
        fish = number - np.cumsum([0, *CATCHES[:-1]])
        log_density = [
            sum(
                stats.nchypergeom_fisher.logpmf(R, int(N), M, C, ratio)
                for R, N, M, C in zip(SEEN, fish, marks, CATCHES, strict=True)
            )
            for ratio in effective_marks(kinds_at_large(campaign)[0], pen, spec, 0.0)
        ]
        expected.append(np.log(np.mean(np.exp(log_density))))
    # To first order in the share that a pull takes, here up to a tenth.
    assert np.diff(found) == pytest.approx(np.diff(expected), rel=0.06, abs=0.02)


def test_marks_only_is_wider_than_with_every_mark_counted(campaign: fishdown.Campaign) -> None:
    doubting, trusting = spec_for(campaign), spec_for(campaign, marks="all_count")
    ends = np.array([0.05, 0.95])
    wide, narrow = (
        np.log(marks_of_seasons(campaign, spec)[0].quantile(ends))
        for spec in (doubting, trusting.with_parts(recaptures="random"))
    )
    assert np.diff(wide)[0] > 1.2 * np.diff(narrow)[0]


def test_kinds_of_earlier_years_stay_at_large(folder_of: Callable[..., Path]) -> None:
    campaign = fishdown.read(
        folder_of(
            lakes=[{"lake": name, "area_ha": 20} for name in ("Alder", "Birch")],
            pulls=[
                pull
                for lake, year in (("Alder", 2021), ("Alder", 2022), ("Birch", 2022))
                for pull in daily_pulls(lake, [9, 5], start=f"{year}-06-01")
            ],
            marked=[
                {"date": date, "lake": "Alder", "batch": date, "mark": mark, "released": 10}
                for date, mark in (("2021-05-01", "fin_clip"), ("2022-05-01", "pit_tag"))
            ],
        )
    )
    assert kinds_at_large(campaign).tolist() == [[1, 0, 0], [0.5, 0.5, 0], [1, 0, 0]]


@pytest.mark.parametrize(
    ("part", "said"),
    [
        ('deaths = "unseen"', "has post_release_survival already"),
        ('batches = "apart"', "counts the marks of a season together"),
        ('recaptures = "uneven"', "has a capture odds ratio already"),
    ],
)
def test_what_does_not_go_with_effective_marks(part: str, said: str) -> None:
    text = fishdown.read_model("one_lake").text
    name = part.split()[0]
    kept = "\n".join(line for line in text.splitlines() if line.split(" ")[0] != name)
    with pytest.raises(ModelFileError, match=said):
        fishdown.models.spec.parse_model(kept.replace("[parts]", f"[parts]\n{part}"), "mine")
