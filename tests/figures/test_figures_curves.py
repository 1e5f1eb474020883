"""The curve of catchability against temperature, against formulas by hand and against PyMC."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
import xarray as xr
from drawn_fits import drawn_fit, records

from fishdown.models import hazard
from fishdown.posterior import curves

GRID = np.array([6.0, 12.0, 20.0, 25.0])


def test_log_linear_by_hand(tmp_path: Path) -> None:
    fit = drawn_fit(records(tmp_path / "r", ["One", "Two"]))
    share = curves.catchability_at(fit, 1, GRID)
    at_reference = fit.quantities["catchability_at_reference"].values[..., 1].ravel()
    factor = fit.tree["posterior"]["temperature_effect"].values[..., 1].ravel()
    assert share[:, 2] == pytest.approx(at_reference, rel=1e-12)
    hazard_cold = -np.log(1.0 - at_reference) * factor ** ((20.0 - 6.0) / 10.0)
    assert share[:, 0] == pytest.approx(1.0 - np.exp(-hazard_cold), rel=1e-9)


def test_without_temperature_it_is_flat(tmp_path: Path) -> None:
    fit = drawn_fit(records(tmp_path / "r", warm=False), "few_passes")
    share = curves.catchability_at(fit, 0, GRID)
    assert np.ptp(share, axis=1).max() == 0.0


def one_draw(shape: str, **posterior: Any) -> Any:
    """Make a stand-in for a fit with a single draw."""
    plain = {
        name: (("chain", "draw", *dims), np.array(values, dtype=float)[None, None])
        for name, (dims, values) in posterior.items()
    }
    return SimpleNamespace(
        quantities=xr.Dataset(
            {"catchability_at_reference": (("chain", "draw", "season"), [[[0.02]]])}
        ),
        tree={"posterior": SimpleNamespace(dataset=xr.Dataset(plain))},
        campaign=SimpleNamespace(seasons=xr.Dataset({"lake_index": ("season", [0])})),
        spec=SimpleNamespace(part=lambda _: shape, reference_temperature=20.0),
    )


def test_threshold_curve_by_hand() -> None:
    fit = one_draw(
        "threshold_curve", threshold_temperature=(("lake",), [14.0]), threshold_width=((), 2.0)
    )
    feeding = 1.0 / (1.0 + np.exp(-(GRID - 14.0) / 2.0))
    relative = feeding * (1.0 + np.exp(-(20.0 - 14.0) / 2.0))
    expected = 1.0 - (1.0 - 0.02) ** relative
    assert curves.catchability_at(fit, 0, GRID)[0] == pytest.approx(expected, rel=1e-12)


def test_smooth_curve_is_that_of_the_model() -> None:
    """The basis written out here is the one that PyMC builds inside the model."""
    pm = pytest.importorskip("pymc")
    step = np.random.default_rng(1).normal(size=(1, hazard.SMOOTH_BASIS))
    low, high = hazard.SMOOTH_RANGE
    middle, half = (low + high) / 2.0, (high - low) / 2.0
    with pm.Model():
        kernel = 0.4**2 * pm.gp.cov.ExpQuad(1, ls=6.0 / half)
        process = pm.gp.HSGP(m=[hazard.SMOOTH_BASIS], L=[1.5], cov_func=kernel)
        process.prior_linearized(np.array([[-1.0], [1.0]]))
        basis, root_density = process.prior_linearized(((GRID - middle) / half)[:, None])
        expected = (basis @ (step[0] * root_density)).eval()
    ours = curves.smooth_curve(GRID, np.array([[0.4]]), np.array([[6.0]]), step)
    assert ours[0] == pytest.approx(expected, rel=1e-9)
    assert curves.SMOOTH_RANGE == hazard.SMOOTH_RANGE


def test_smooth_shape_joins_slope_and_curve() -> None:
    step = np.random.default_rng(2).normal(size=hazard.SMOOTH_BASIS)
    fit = one_draw(
        "smooth",
        temperature_effect_linear=(("lake",), [0.5]),
        smooth_amplitude=((), 0.4),
        smooth_scale=((), 6.0),
        smooth_step=(("basis",), step),
    )
    curve = curves.smooth_curve(
        np.append(GRID, 20.0), np.array([[0.4]]), np.array([[6.0]]), step[None]
    )[0]
    relative = np.exp(np.log(0.5) * (20.0 - GRID) / 10.0 + curve[:-1] - curve[-1])
    expected = 1.0 - (1.0 - 0.02) ** relative
    assert curves.catchability_at(fit, 0, GRID)[0] == pytest.approx(expected, rel=1e-9)
