"""Runs of another gear: densities against numerical integrals and SciPy, and what the graph has."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from field_records import daily_pulls
from graph_points import values_of_graph
from scipy import integrate, stats

import fishdown
from fishdown.errors import ModelFileError
from fishdown.models.data import fitting_spec, model_data
from fishdown.models.parts.surveys.densities import efforts_log_density, looks_log_density
from fishdown.models.parts.surveys.runs import Looks, normal_nodes, surveys
from fishdown.models.spec import model_folder, parse_model

PULLS = [*daily_pulls("Alder", [40, 31, 25, 28, 22, 19], recaptured=[4, 2, 3, 2, 2, 1])]
MARKED = [{"date": "2024-05-01", "lake": "Alder", "batch": "A", "mark": "fin_clip", "released": 60}]


def run(day: str, caught: int, marked: int | str = "", gear: str = "seine", **more: Any):
    return {"date": day, "lake": "Alder", "gear": gear, "marking_gear": "no", "caught": caught,
            "examined": "", "marked": marked, "effort_h": "", **more}  # fmt: skip


@pytest.fixture
def campaign_of(folder_of):
    def make(*runs: dict[str, Any], pulls=PULLS) -> fishdown.Campaign:
        lakes = [{"lake": "Alder", "area_ha": 12}]
        tables = {"surveys": list(runs)} if runs else {}
        return fishdown.read(folder_of(lakes=lakes, pulls=pulls, marked=MARKED, **tables))

    return make


def looks_of(campaign: fishdown.Campaign) -> Looks[Any]:
    found = surveys(campaign, fishdown.read_model("one_lake").priors).looks
    assert found is not None
    return found


# Nine nodes are exact where marked fish hardly keep together, and near enough where they do.
@pytest.mark.parametrize(("s", "error"), [(0.05, 1e-5), (0.3, 1e-5), (0.9, 5e-3)])
def test_runs_of_a_gear_share_its_odds(campaign_of, s, error) -> None:
    looks = looks_of(campaign_of(run("2024-05-20", 30, 3), run("2024-06-03", 25, 1)))
    marked, unmarked, kept = np.array([60.0, 51.0]), np.array([540.0, 480.0]), np.full(2, 0.9)
    ours = looks_log_density(looks, marked, unmarked, kept, s)

    def one(r: int, e: int, base: float, w: float) -> float:
        # Written out: a million calls of SciPy's normal density would take seconds.
        def at(y: float) -> float:
            p = 1.0 / (1.0 + math.exp(-(level + s * y)))
            return math.exp(-0.5 * y**2) * p**r * (1.0 - p) ** (e - r)

        level = math.log(base) + w - s**2 / 2.0
        return integrate.quad(at, -9.0, 9.0, epsabs=0.0)[0] / math.sqrt(2.0 * math.pi)

    base = marked / unmarked * kept

    def both(w: float) -> float:
        runs = one(3, 30, base[0], w) * one(1, 25, base[1], w)
        return float(stats.norm.pdf(w, 0.0, 0.25) * runs * 1e9)

    expected = np.log(integrate.quad(both, -2.25, 2.25, epsrel=1e-8)[0]) - np.log(1e9)
    assert ours == pytest.approx(expected, abs=error)


def test_a_run_without_variation_is_binomial(campaign_of) -> None:
    looks = looks_of(campaign_of(run("2024-05-20", 30, 3)))
    sure = Looks(**{**vars(looks), "odds_node": 0.0 * looks.odds_node})
    ours = looks_log_density(sure, np.array([60.0]), np.array([540.0]), np.ones(1), 0.0)
    expected = stats.binom.logpmf(3, 30, 0.1) - np.log(stats.binom.pmf(3, 30, 0.5) * 2.0**30)
    assert ours == pytest.approx(expected, rel=1e-9)


def test_the_gear_of_the_marking_has_odds_of_its_own(campaign_of) -> None:
    looks = looks_of(
        campaign_of(
            run("2024-05-20", 30, 3),
            run("2024-06-03", 25, 1),
            run("2024-06-04", 25, 1, gear="boat", marking_gear="yes"),
        )
    )
    assert looks.sort.tolist() == [0, 0, 1]
    np.testing.assert_allclose(np.exp(looks.odds_node[:, 8]), [1.0, 1.3])
    # At the end of the day: after the pull of that day.
    assert looks.gone_before.tolist() == [0, 40 + 31 + 25, 40 + 31 + 25 + 28]
    assert looks.marks.tolist() == [60, 51, 49]


def test_catch_per_effort_speaks_by_contrasts(campaign_of) -> None:
    """Of a flat efficiency: the density of the contrasts, by SciPy's multivariate normal."""
    runs = (
        run("2024-05-20", 60, effort_h=2),
        run("2024-06-03", 35, effort_h=1.5),
        run("2024-06-09", 20, effort_h=1),
        run("2024-06-09", 9, effort_h=1, gear="boat"),
    )
    campaign = campaign_of(*runs)
    efforts = surveys(campaign, fishdown.read_model("one_lake").priors).efforts
    assert efforts is not None
    # The boat was used once, and tells nothing.
    assert efforts.gears.tolist() == [3]
    fish = np.array([600.0, 500.0, 430.0])
    contrasts = np.array([[1.0, -1.0, 0.0], [0.0, 1.0, -1.0]])
    off = contrasts @ (np.log(np.array([60.5, 35.5, 20.5]) / [2.0, 1.5, 1.0]) - np.log(fish))
    log_weight = normal_nodes(9)[1]
    each = [
        stats.multivariate_normal.logpdf(
            off, cov=contrasts @ np.diag(t**2 + efforts.chance) @ contrasts.T
        )
        for t in efforts.variation
    ]
    expected = np.log(np.exp(each + log_weight).sum())
    # Contrasts of three runs, whatever they are, differ by a constant from the integral.
    constant = -np.log(2.0 * np.pi)
    assert efforts_log_density(efforts, fish) + constant == pytest.approx(expected, rel=1e-9)


def test_the_graph_has_them(campaign_of) -> None:
    runs = (run("2024-05-20", 30, 3, effort_h=2), run("2024-06-09", 25, 1, effort_h=1))
    campaign = campaign_of(*runs)
    spec, _ = fitting_spec(campaign, fishdown.read_model("one_lake"))
    assert spec.part("surveys") == "second_gear"
    posterior, potentials = values_of_graph(campaign, spec)
    found = model_data(campaign, spec).surveys
    assert found is not None
    looks, efforts = found.looks, found.efforts
    assert looks is not None
    assert efforts is not None
    for point, (looked, effort) in enumerate(
        zip(potentials["surveys"], potentials["survey_efforts"], strict=True)
    ):
        at = posterior.isel(chain=0, draw=point)
        fish = float(at["abundance"][0]) - looks.gone_before
        odds = float(at["capture_odds_ratio"][0])
        # Of the marks that nets have not taken, the lost ones are more and more.
        escaped = (fish / float(at["abundance"][0])) ** odds
        there = float(at["effective_marks"][0]) / odds
        kept = there * escaped / (1.0 - there + there * escaped)
        clumping = float(at["clumping"]) if "clumping" in at else 0.0
        marked = looks.marks
        ours = looks_log_density(looks, marked, fish - kept * marked, kept, clumping)
        assert looked == pytest.approx(ours, rel=1e-9)
        died = np.exp(-float(at["natural_mortality"]) * efforts.years)
        present = float(at["abundance"][0]) * died - efforts.gone_before
        assert effort == pytest.approx(efforts_log_density(efforts, present), rel=1e-9)


def test_catches_alone_do_without(campaign_of) -> None:
    campaign = campaign_of(run("2024-05-20", 30, 3))
    spec, _ = fitting_spec(campaign, fishdown.read_model("one_lake"))
    assert model_data(campaign, spec.with_parts(evidence="depletion")).surveys is None
    assert model_data(campaign, spec.with_parts(marks="all_count")).surveys is None


def test_left_out_where_no_run_tells(campaign_of) -> None:
    for runs in ((), (run("2024-05-20", 30),), (run("2024-04-20", 30, 0),)):
        spec, _ = fitting_spec(campaign_of(*runs), fishdown.read_model("one_lake"))
        assert spec.part("surveys") == "none"


def test_it_goes_with_effective_marks_only() -> None:
    text = (model_folder() / "one_lake.toml").read_text(encoding="utf-8")
    text = text.replace('marks = "effective" ', 'marks = "all_count" ')
    text = text.replace('antenna = "heard" ', 'antenna = "none" ')
    with pytest.raises(ModelFileError, match='surveys = "second_gear" is about effective marks'):
        parse_model(text, "mine")
