"""The smooth curve of catchability against temperature: its basis, and its value in plain numbers.

A Gaussian process with squared-exponential covariance on a Hilbert-space basis (Riutort-Mayol et
al. 2023, Statistics and Computing 33:17). The graph has PyMC's own; what is here gives the same
curve at any temperature from draws.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from fishdown.typing import FloatArray

# Basis functions, the temperatures they are meant for in °C, and how far beyond these their walls
# stand, as a multiple of half that range.
SMOOTH_BASIS = 12
SMOOTH_RANGE = (-2.0, 36.0)
SMOOTH_WALLS = 1.5


def smooth_curve(
    temperature: FloatArray, amplitude: FloatArray, scale: FloatArray, step: FloatArray
) -> FloatArray:
    """Return the curve that all lakes share, on the log scale, not yet relative to the reference.

    Σ_j β_j √S(ω_j) sin(ω_j (x + L)) / √L with x the temperature in half ranges from the middle,
    ω_j = jπ/2L and S(ω) = α² √(2π) ℓ exp(−ω²ℓ²/2).

    Parameters
    ----------
    temperature : ndarray, shape (draw or 1, point)
        °C.
    amplitude, scale : ndarray, shape (draw,)
        α, on the log scale, and ℓ, °C.
    step : ndarray, shape (draw, function)
        β, standard normal before the records.

    Returns
    -------
    ndarray, shape (draw, point)
    """
    low, high = SMOOTH_RANGE
    middle, half = (low + high) / 2.0, (high - low) / 2.0
    x = (temperature - middle) / half
    curve = np.zeros((len(step), temperature.shape[1]))
    for number in range(SMOOTH_BASIS):
        frequency = (number + 1) * np.pi / (2.0 * SMOOTH_WALLS)
        width = scale / half
        density = (
            amplitude**2 * np.sqrt(2.0 * np.pi) * width * np.exp(-((frequency * width) ** 2) / 2)
        )
        weight = step[:, number] * np.sqrt(density / SMOOTH_WALLS)
        curve += weight[:, None] * np.sin(frequency * (x + SMOOTH_WALLS))
    return curve
