"""What each effect makes of the pulls, and what it adds to the log-hazard, in plain numbers."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from field_records import daily_pulls
from graph_points import hazards_of_graph, values_of_graph
from scipy import stats

import fishdown
from fishdown.models.array_library import NUMPY
from fishdown.models.data import fitting_spec, model_data
from fishdown.models.part import Effect
from fishdown.models.parts.bait import BAIT, BaitInputs
from fishdown.models.parts.effort import EFFORT, usual_hours
from fishdown.models.parts.first_pulls import FIRST_PULLS
from fishdown.models.parts.mesh import MESH
from fishdown.models.parts.rest import LONG_REST, REST, RestInputs
from fishdown.models.parts.temperature import threshold_effect
from fishdown.models.pull_table import PullTable
from fishdown.posterior.at_draws import thinned
from fishdown.posterior.pull_hazard import pull_hazard


def pulls(**columns: list[Any]) -> PullTable:
    """Make pulls of one lake, of the nets 0 and 1."""
    count = len(next(iter(columns.values())))
    season, net = (columns.pop(name, [0] * count) for name in ("season", "net"))
    date = columns.pop("date", ["2025-06-01"] * count)
    return PullTable(
        season=np.array(season),
        lake=np.zeros(count, dtype=np.int64),
        seasons=(("A", "2025"), ("A", "2026")),
        net=np.array(net),
        nets=(("A", "0"), ("A", "1")),
        date=np.array(date, dtype="datetime64[ns]"),
        columns={name: np.array(column, dtype=float) for name, column in columns.items()},
    )


def factor(effect: Effect, inputs: Any, **values: float) -> np.ndarray:
    choice = list(effect.choices)[1]
    return np.exp(effect.log_effect(NUMPY, choice, inputs, values, 20.0))


def test_a_net_pulled_again_at_once_has_lost_its_share() -> None:
    rest = RestInputs(np.array([0.0, 5.0, LONG_REST]))
    found = factor(REST, rest, rest_loss=0.6, rest_recovery=5.0)
    assert found == pytest.approx([0.4, 1.0 - 0.6 / np.e, 1.0], abs=1e-12)


def test_bait_builds_up_from_its_start() -> None:
    bait = BaitInputs(np.array([0.0, 4.0]))
    found = factor(BAIT, bait, bait_start=0.3, bait_build_up=4.0)
    assert found == pytest.approx([0.3, 1.0 - 0.7 / np.e])


def test_twice_the_hours_by_the_exponent() -> None:
    fitted = pulls(effort_h=[6.0, 12.0, 24.0])
    assert usual_hours(np.array([6.0, 12.0, 24.0])) == 12.0
    assert usual_hours(np.array([6.0, 12.0, 25.0])) == 12.0
    assert usual_hours(np.array([0.25, 1.0])) == pytest.approx(0.5)
    inputs = EFFORT.inputs(fitted, fitted)
    for exponent, expected in ((0.0, [1.0, 1.0, 1.0]), (1.0, [0.5, 1.0, 2.0])):
        assert factor(EFFORT, inputs, effort_exponent=exponent) == pytest.approx(expected)
    found = factor(EFFORT, inputs, effort_exponent=0.5)
    assert found == pytest.approx([np.sqrt(0.5), 1.0, np.sqrt(2.0)])
    # Pulls to come are measured against those that were fitted, and take their median.
    to_come = EFFORT.inputs(pulls(effort_h=[48.0, np.nan]), fitted)
    assert np.exp(to_come.log_ratio) == pytest.approx([4.0, 1.0])


def test_hours_must_be_there_for_every_pull_and_differ() -> None:
    assert EFFORT.unfed(pulls(effort_h=[6.0, 12.0])) == ""
    assert "for 1 of 2 pulls" in EFFORT.unfed(pulls(effort_h=[6.0, np.nan]))
    assert "same hours" in EFFORT.unfed(pulls(effort_h=[6.0, 6.0]))


def test_rest_and_first_pulls_are_counted_by_net_and_season() -> None:
    table = pulls(
        net=[0, 1, 0, 0, 0],
        season=[0, 0, 0, 0, 1],
        date=["2025-06-01", "2025-06-01", "2025-06-04", "2025-06-04", "2026-06-01"],
    )
    assert REST.inputs(table, table).days.tolist() == [LONG_REST, LONG_REST, 3.0, 0.0, LONG_REST]
    assert FIRST_PULLS.inputs(table, table).later.tolist() == [0.0, 0.0, 1.0, 1.0, 0.0]
    found = factor(FIRST_PULLS, FIRST_PULLS.inputs(table, table), later_pulls=0.6)
    assert found == pytest.approx([1.0, 1.0, 0.6, 0.6, 1.0])


def test_what_is_not_on_record_is_the_median_of_what_is() -> None:
    fitted = pulls(mesh_mm=[40.0, 80.0, np.nan, 80.0], bait_days=[1.0, np.nan, 3.0, 8.0])
    assert MESH.inputs(fitted, fitted).doublings.tolist() == [-1.0, 0.0, 0.0, 0.0]
    assert BAIT.inputs(fitted, fitted).days.tolist() == [1.0, 3.0, 3.0, 8.0]
    # Pulls to come are measured against those that were fitted.
    to_come = pulls(mesh_mm=[160.0, np.nan], bait_days=[np.nan, 2.0])
    assert MESH.inputs(to_come, fitted).doublings.tolist() == [1.0, 0.0]
    assert BAIT.inputs(to_come, fitted).days.tolist() == [3.0, 2.0]


def test_threshold_halves_what_warm_water_has() -> None:
    # Far above the threshold the reference is "warm water", and at the threshold half is left.
    assert np.exp(threshold_effect(12.0, 12.0, 1.0, 60.0)) == pytest.approx(0.5)
    assert threshold_effect(20.0, 12.0, 2.0, 20.0) == 0.0
    expected = stats.logistic.logcdf(9.0, 13.0, 2.5) - stats.logistic.logcdf(20.0, 13.0, 2.5)
    assert threshold_effect(9.0, 13.0, 2.5, 20.0) == pytest.approx(expected, rel=1e-12)


def test_hours_have_no_part_where_there_are_none(folder_of: Callable[..., Path]) -> None:
    lakes = [{"lake": "Pond", "area_ha": 2.0}]
    for hours, choice, told in (
        ([6, 12, 24], "hours", False),
        ([6, "", 24], "pulls", True),
        ([""] * 3, "pulls", False),
    ):
        pulls = daily_pulls("Pond", [40, 30, 20], effort_h=hours)
        campaign = fishdown.read(folder_of(lakes=lakes, pulls=pulls))
        spec, notes = fitting_spec(campaign, fishdown.read_model("detailed_nets"))
        assert spec.part("effort") == choice
        assert any("hours" in note for note in notes) == told
        assert ("effort_exponent" in spec.priors) == (choice == "hours")
        # Models that do not ask for it count pulls, whatever is on record.
        plain, _ = fitting_spec(campaign, fishdown.read_model("one_lake"))
        assert plain.part("effort") == "pulls"


def test_the_graph_has_the_hours_of_plain_numbers(folder_of: Callable[..., Path]) -> None:
    pulls = daily_pulls("Pond", [40, 30, 20, 9, 12], effort_h=[6, 12, 24, 6, 3.5])
    lakes = [{"lake": "Pond", "area_ha": 2.0}]
    campaign = fishdown.read(folder_of(lakes=lakes, pulls=pulls))
    asked = fishdown.read_model("detailed_nets").with_parts(evidence="depletion")
    spec, _ = fitting_spec(campaign, asked)
    posterior, _ = values_of_graph(campaign, spec)
    few, data = thinned(posterior), model_data(campaign, spec)
    plain = pull_hazard(few, spec, data.area, data.catches.lake, data.effects)
    assert hazards_of_graph(few, campaign, spec) == pytest.approx(plain, rel=1e-9)
    by_pulls = spec.with_parts(effort="pulls")
    flat = pull_hazard(few, by_pulls, data.area, data.catches.lake, data.effects)
    exponent = few["effort_exponent"].values[:, None]
    expected = exponent * np.log(np.array([6, 12, 24, 6, 3.5]) / 8.0)
    assert np.log(plain / flat) == pytest.approx(expected, rel=1e-9)
