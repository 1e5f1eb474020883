"""Which shape predicts best: the arithmetic by hand, the reweighting against exact answers."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
import xarray as xr
from command_lines import assert_readable, joined, passes
from field_records import daily_pulls
from scipy import stats

import fishdown
from fishdown.checks import shapes
from fishdown.checks.shapes import Score, ShapeComparison, groups_of_pulls, with_shape
from fishdown.cli import main

DAYS = 40


def compared(
    lost: dict[str, float], spread: float = 0.1, bad: int = 0, failure: str = ""
) -> ShapeComparison:
    """Scores of forty days, each shape `lost` behind in all, scattered by `spread` a day."""
    rng = np.random.default_rng(4)
    scores = {}
    for shape, behind in lost.items():
        scatter = rng.normal(0.0, spread, DAYS)
        scatter -= scatter.mean()
        k = np.full(DAYS, 0.3)
        k[:bad] = 0.9
        by_day = -3.0 - behind / DAYS + scatter * (behind > 0)
        scores[shape] = Score(by_day, k, 0.7, failure)
    return ShapeComparison(scores, tuple(f"day {n}" for n in range(DAYS)), "day")


def test_a_clear_winner() -> None:
    found = compared({"none": 30.0, "log_linear": 12.0, "smooth": 0.0})
    assert found.best == "smooth"
    assert found.alike() == ("smooth",)
    assert "The best curve is smooth" in found.sentence()
    assert "better than the next, log_linear, by 12.0 ± 0." in found.sentence()
    frame = found.frame().set_index("shape")
    assert frame.loc["none", "behind"] == pytest.approx(30.0)
    assert frame.loc["smooth", "score"] == pytest.approx(-3.0 * DAYS)


def test_differences_below_four_or_two_standard_errors_are_none() -> None:
    small = compared({"none": 20.0, "log_linear": 3.9, "smooth": 0.0})
    assert small.alike() == ("log_linear", "smooth")
    assert "do not distinguish log_linear and smooth:" in small.sentence()
    assert "none is worse by 20.0 ± " in small.sentence()
    assert "no effect" not in small.sentence()
    # 1.0 a day over forty days is a standard error of 6.3 or so: 8 lies within two of them.
    noisy = compared({"none": 8.0, "smooth": 0.0}, spread=1.0)
    behind, error = noisy.behind("none")
    assert behind == pytest.approx(8.0)
    assert 4.0 < error < 8.0
    assert noisy.alike() == ("none", "smooth")
    assert "A model without an effect of temperature predicts as well." in noisy.sentence()
    assert compared({"none": 8.0, "smooth": 0.0}).alike() == ("smooth",)


def test_not_ranked_when_predictions_cannot_be_trusted() -> None:
    few = compared({"none": 30.0, "smooth": 0.0}, bad=2)
    assert not few.failure
    many = compared({"none": 30.0, "smooth": 0.0}, bad=3)
    assert "k is above 0.70 for 3 of 40 days" in many.failure
    assert many.sentence().startswith("The curves are not ranked: none: k is above")
    assert many.sentence(despite_gate=True).startswith("WARNING, unreliable")
    sick = compared({"none": 30.0, "smooth": 0.0}, failure="3 divergent transitions")
    assert "not ranked: none: 3 divergent transitions" in sick.sentence()
    assert np.isnan(Score(np.zeros(1), np.array([np.nan]), 0.7).pareto_k).all()
    assert Score(np.zeros(1), np.array([np.nan]), 0.7).unreliable == 1


def campaign_of(folder_of: Callable[..., Path], temperatures: Sequence[Any]) -> fishdown.Campaign:
    pulls = daily_pulls("Alder", [9, 5, 4, 3], water_temp_c=list(temperatures))
    more = daily_pulls("Birch", [9, 5, 4, 3], water_temp_c=list(temperatures))
    for pull in more:
        pull["net"] = "B"
    again = [{**pull, "net": "C"} for pull in more]
    again[1]["spoiled"] = "yes"
    lakes = [{"lake": "Alder", "area_ha": 2}, {"lake": "Birch", "area_ha": 3}]
    return fishdown.read(folder_of(lakes=lakes, pulls=[*pulls, *more, *again]))


def test_groups_are_days_of_a_lake_or_nets(folder_of: Callable[..., Path]) -> None:
    campaign = campaign_of(folder_of, [20.0, 18.0, 15.0, 12.0])
    spec = fishdown.read_model("pooled_lakes")
    days, group = groups_of_pulls(campaign, spec, "day")
    assert days[:2] == ("Alder 2024-06-01", "Alder 2024-06-02")
    assert len(days) == 8
    # The spoiled pull carries no marks that anybody looked for: it says nothing.
    assert np.bincount(group[group >= 0]).tolist() == [1, 1, 1, 1, 2, 1, 2, 2]
    assert (group == -1).sum() == 1
    nets, _ = groups_of_pulls(campaign, spec, "net")
    assert nets == ("Alder: A", "Birch: B", "Birch: C")


def test_every_shape_has_priors_and_the_models_own_prevail() -> None:
    own = fishdown.read_model("one_lake")
    for shape in shapes.SHAPES:
        spec = with_shape(own, shape)
        assert spec.part("temperature") == shape
        assert spec.part("pooling") == "none"
    prior = fishdown.read_model("lost_marks").priors["temperature_effect"]
    changed = with_shape(fishdown.read_model("few_passes"), "log_linear")
    assert changed.priors["temperature_effect"] == prior
    assert with_shape(own, "smooth").priors["density"] == own.priors["density"]


def test_left_out_groups_are_predicted_as_exact_conjugacy_has_it(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Normal data of known spread: each group of two given the others is bivariate normal."""
    rng = np.random.default_rng(1)
    data = rng.normal(1.0, 1.0, 24)
    mean, sd = data.mean(), np.sqrt(1.0 / len(data))
    draws = rng.normal(mean, sd, (4, 4_000))
    density = xr.Dataset(
        {
            "catch": (("chain", "draw", "pull"), stats.norm.logpdf(data, draws[..., None], 1.0)),
            "recaptures": (("chain", "draw", "pull"), np.zeros((4, 4_000, 24))),
        }
    )
    monkeypatch.setattr(shapes, "pull_log_densities", lambda *_: density)
    abundance = xr.Dataset({"abundance_before": (("chain", "draw", "season"), draws[..., None])})
    fitted: Any = SimpleNamespace(
        tree={"posterior": SimpleNamespace(dataset=None)},
        campaign=None,
        spec=None,
        quantities=abundance,
        quality=SimpleNamespace(passed=True),
    )
    group = np.repeat(np.arange(12), 2)
    found = shapes.score(fitted, group, 12)
    for one in range(12):
        others = data[group != one]
        predicted = np.eye(2) + 1.0 / len(others)
        exact = stats.multivariate_normal([others.mean()] * 2, predicted).logpdf(data[group == one])
        assert found.by_group[one] == pytest.approx(float(exact), abs=0.02)
    assert found.unreliable == 0
    assert found.limit == pytest.approx(0.7)


def test_no_temperature_and_no_catches_are_refused(folder_of: Callable[..., Path]) -> None:
    cold = campaign_of(folder_of, ["", "", "", ""])
    with pytest.raises(fishdown.FitError, match="no pull has a water temperature"):
        fishdown.compare_shapes(cold)
    with pytest.raises(fishdown.FitError, match="marks_only does not use catches"):
        fishdown.compare_shapes(cold, "marks_only")
    with pytest.raises(fishdown.FitError, match="write one of day, net"):
        fishdown.compare_shapes(cold, leave_out="week")  # type: ignore[arg-type]


def test_command(
    folder_of: Callable[..., Path],
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    answers = iter(
        (
            compared({"none": 0.5, "log_linear": 0.0, "threshold_curve": 1.0, "smooth": 0.2}),
            compared({"none": 9.0, "smooth": 0.0}, bad=9),
        )
    )
    monkeypatch.setattr(shapes, "compare_shapes", lambda *_, **__: next(answers))
    folder = str(passes(folder_of))
    assert main(["shapes", folder]) == 0
    said = capsys.readouterr().out
    assert_readable(said)
    assert "do not distinguish none, log_linear, threshold_curve and smooth:" in joined(said)
    assert "fewer than 100 days" in joined(said)
    assert main(["shapes", folder, "--leave-out", "net"]) == 3
    assert "The curves are not ranked" in capsys.readouterr().out
