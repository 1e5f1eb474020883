"""Catchability as a curve: draws of what one pull takes at any water temperature."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from fishdown.models.temperature import cooling_effect, threshold_effect

if TYPE_CHECKING:
    from fishdown.posterior.fit import Fit
    from fishdown.typing import FloatArray

# As in `fishdown.models.hazard`: the smooth curve's basis, held against PyMC's in the tests.
SMOOTH_RANGE = (-2.0, 36.0)
SMOOTH_BOUNDARY = 1.5


def catchability_at(fit: Fit, season: int, temperature: FloatArray) -> FloatArray:
    """Return draws of catchability in a season's lake at given temperatures.

    The catchability of a pull that differs from the reference in nothing but temperature: a rested
    net with the median mesh.

    Parameters
    ----------
    fit : Fit
        Whose model has a catchability.
    season : int
        Position of the season.
    temperature : ndarray, shape (point,)
        °C.

    Returns
    -------
    ndarray, shape (draw, point)
        Probability that one pull takes a given fish.
    """
    at_reference = fit.quantities["catchability_at_reference"].isel(season=season).values.ravel()
    hazard = -np.log1p(-at_reference)
    taken: FloatArray = -np.expm1(-hazard[:, None] * np.exp(_log_effect(fit, season, temperature)))
    return taken


def _log_effect(fit: Fit, season: int, temperature: FloatArray) -> FloatArray:
    """Return draws of what temperature adds to the log-hazard, shape (draw, point)."""
    shape = fit.spec.part("temperature")
    count = fit.quantities.sizes["chain"] * fit.quantities.sizes["draw"]
    if shape == "none":
        return np.zeros((count, len(temperature)))
    posterior = fit.tree["posterior"].dataset
    lake = int(fit.campaign.seasons["lake_index"].values[season])
    reference = fit.spec.reference_temperature

    def draws(name: str) -> FloatArray:
        array = posterior[name]
        values: FloatArray = (array.isel(lake=lake) if "lake" in array.dims else array).values
        return values.reshape(count, -1)

    effect: FloatArray
    if shape == "threshold_curve":
        effect = threshold_effect(
            temperature, draws("threshold_temperature"), draws("threshold_width"), reference
        )
        return effect
    if shape == "log_linear":
        effect = cooling_effect(temperature, np.log(draws("temperature_effect")), reference)
        return effect
    slope = np.log(draws("temperature_effect_linear"))
    effect = cooling_effect(temperature, slope, reference)
    curve = smooth_curve(
        np.append(temperature, reference),
        draws("smooth_amplitude"),
        draws("smooth_scale"),
        draws("smooth_step"),
    )
    return effect + curve[:, :-1] - curve[:, -1:]


def smooth_curve(temperature: FloatArray, amplitude: Any, scale: Any, step: Any) -> FloatArray:
    """Evaluate draws of the Hilbert-space Gaussian process of the smooth temperature curve.

    Eigenfunctions sin(√λ_j (x + L))/√L with √λ_j = jπ/(2L) on x in [-1, 1], each times the root of
    the spectral density of the squared-exponential covariance, σ² ℓ √(2π) exp(−ℓ² λ_j / 2)
    (Riutort-Mayol et al. 2023, Statistics and Computing 33:17).

    Parameters
    ----------
    temperature : ndarray, shape (point,)
        °C.
    amplitude, scale : ndarray, shape (draw, 1)
        σ (log hazard), and ℓ (°C).
    step : ndarray, shape (draw, basis)
        Standard normal weights.

    Returns
    -------
    ndarray, shape (draw, point)
    """
    low, high = SMOOTH_RANGE
    half = (high - low) / 2.0
    x = (temperature - (low + high) / 2.0) / half
    root = np.arange(1, step.shape[1] + 1) * np.pi / (2.0 * SMOOTH_BOUNDARY)
    basis = np.sin(root[:, None] * (x + SMOOTH_BOUNDARY)) / np.sqrt(SMOOTH_BOUNDARY)
    length = scale / half
    density = amplitude**2 * length * np.sqrt(2.0 * np.pi) * np.exp(-0.5 * (length * root) ** 2)
    values: FloatArray = (step * np.sqrt(density)) @ basis
    return values
