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


def _by_scipy(N: float, there: float, odds: float) -> float:
    """Log-probability of the recaptures, marks that are lost set aside one by one."""
    total, marks, left = 0.0, 60, 1.0
    for R, C in zip(SEEN, CATCHES, strict=True):
        # Of the marks not seen yet, by Bayes.
        visible = there * left**odds / (1.0 - there + there * left**odds)
        others = round(N * left - visible * marks)
        # Odds of a mark that may be there to those of a fish that is.
        q = C / (N * left)
        caught = odds * q / (1.0 - q + odds * q)
        ratio = visible * caught / (1.0 - visible * caught) * (1.0 - q) / q
        total += stats.nchypergeom_fisher.logpmf(R, marks + others, marks, C, ratio)
        marks -= R
        left -= C / N
    return total


def test_recaptures_are_those_of_the_noncentral_hypergeometric(
    campaign: fishdown.Campaign,
) -> None:
    """Fisher (1935), by SciPy."""
    spec = spec_for(campaign, recaptures="random")
    posterior, potentials = values_of_graph(campaign, spec)
    posterior["abundance"] = posterior["abundance"].round()
    odds = posterior["capture_odds_ratio"].values[0, :, 0]
    there = posterior["effective_marks"].values[0, :, 0] / odds
    for draw, found in enumerate(potentials["recaptures"]):
        N = float(posterior["abundance"].values[0, draw, 0])
        expected = _by_scipy(N, float(there[draw]), float(odds[draw]))
        # The graph has parts of a fish.
        assert found == pytest.approx(expected, rel=0.01)


def test_marks_only_sums_over_how_much_a_mark_counts(campaign: fishdown.Campaign) -> None:
    """Against a sum over draws of the prior with SciPy's distribution."""
    spec, pen = spec_for(campaign, recaptures="random"), pens(campaign).of_lake(0)
    numbers = np.array([400.0, 800.0, 1_600.0])
    found = log_likelihoods(campaign, spec)(0, np.geomspace(200.0, 4_000.0, 400))
    found = np.interp(numbers, np.geomspace(200.0, 4_000.0, 400), found)
    nodes = np.transpose(effective_marks(kinds_at_large(campaign)[0], pen, spec, 0.0))
    expected = [
        np.log(np.mean([np.exp(_by_scipy(number, there, odds)) for there, odds in nodes]))
        for number in numbers
    ]
    assert np.diff(found) == pytest.approx(np.diff(expected), rel=0.02, abs=0.01)


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
