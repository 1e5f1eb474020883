"""The curve of catchability against temperature, against the formula by hand."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from drawn_fits import drawn_fit, records

import fishdown
from fishdown.posterior import curves

GRID = np.array([6.0, 12.0, 20.0, 25.0])


def test_log_linear_by_hand(tmp_path: Path) -> None:
    plain = {"nets": "alike", "nights": "alike", "drift": "none", "first_pulls": "alike"}
    fit = drawn_fit(records(tmp_path / "r", ["One", "Two"]), **plain)
    share = curves.catchability_at(fit, 1, GRID)
    at_reference = fit.quantities["catchability_at_reference"].values[..., 1].ravel()
    factor = fit.tree["posterior"]["temperature_effect"].values[..., 1].ravel()
    assert share[:, 2] == pytest.approx(at_reference, rel=1e-12)
    hazard_cold = -np.log(1.0 - at_reference) * factor ** ((20.0 - 6.0) / 10.0)
    assert share[:, 0] == pytest.approx(1.0 - np.exp(-hazard_cold), rel=1e-9)


def test_it_is_that_of_the_pulls_on_average(tmp_path: Path) -> None:
    fit = drawn_fit(records(tmp_path / "r", ["One", "Two"]), nights="alike", drift="none")
    assert (fit.spec.part("nets"), fit.spec.part("first_pulls")) == ("differ", "best")
    pulls = fit.campaign.pulls.to_dataframe()
    pulls = pulls[~pulls["spoiled"]]
    mine = (pulls["season_index"] == 1).to_numpy()
    again = pulls.duplicated(["season_index", "net"]).to_numpy()[mine].mean()
    drawn = {name: array.values for name, array in fit.tree["posterior"].data_vars.items()}
    spread, later = drawn["net_spread"].ravel(), drawn["later_pulls"].ravel()
    step = drawn["net_step"].reshape(len(spread), -1)[:, fit.data.pulls.net[mine]].mean(axis=1)
    at_reference = -np.log(1.0 - fit.quantities["catchability_at_reference"].values[..., 1].ravel())
    hazard = at_reference * np.exp(spread * step) * later**again
    share = curves.catchability_at(fit, 1, np.array([20.0]))
    assert share[:, 0] == pytest.approx(1.0 - np.exp(-hazard), rel=1e-9)


def test_without_temperature_it_is_flat(tmp_path: Path) -> None:
    fit = drawn_fit(records(tmp_path / "r", warm=False), "few_passes")
    share = curves.catchability_at(fit, 0, GRID)
    assert np.ptp(share, axis=1).max() == 0.0


def test_a_season_that_differs_has_its_own_curve(tmp_path: Path) -> None:
    folder = records(tmp_path / "r", seasons=(2023, 2024))
    fit = drawn_fit(folder, nights="alike", drift="none")
    posterior = fit.tree["posterior"].dataset
    draws = posterior["abundance"].dims[:2]
    size = tuple(posterior.sizes[name] for name in draws)
    tree = fit.tree.copy()
    tree["posterior"] = posterior.assign(
        season_spread=(draws, np.full(size, 0.5)),
        season_step=((*draws, "season"), np.broadcast_to([0.0, 1.0], (*size, 2))),
    )
    spread = fishdown.read_model("many_years").priors["season_spread"]
    spec = replace(
        fit.spec,
        parts={**fit.spec.parts, "seasons": "differ"},
        priors={**fit.spec.priors, "season_spread": spread},
    )
    differing = replace(fit, tree=tree, spec=spec)
    first, second = (curves.catchability_at(differing, season, GRID) for season in (0, 1))
    assert np.log1p(-second) == pytest.approx(np.exp(0.5) * np.log1p(-first), rel=1e-9)
