"""The smooth temperature–catchability curve.

A Gaussian process with squared-exponential covariance on a Hilbert-space basis (Riutort-Mayol et
al. 2023, Statistics and Computing 33:17).
"""

from __future__ import annotations

from typing import Any

import numpy as np

# Number of basis functions, their temperature range in °C, and the boundary of the basis as a
# multiple of half that range.
SMOOTH_BASIS = 12
SMOOTH_RANGE = (-2.0, 36.0)
SMOOTH_WALLS = 1.5


def smooth_curve(xp: Any, temperature: Any, amplitude: Any, scale: Any, step: Any) -> Any:
    """Return the curve common to all lakes, on the log scale, before centring at the reference.

    Σ_j β_j √S(ω_j) sin(ω_j (x + L)) / √L with x the temperature in half ranges from the middle,
    ω_j = jπ/2L and S(ω) = α² √(2π) ℓ exp(−ω²ℓ²/2).

    Parameters
    ----------
    xp : module
        NumPy or PyTensor's, see `fishdown.models.array_library`.
    temperature : array or tensor, shape (…, point)
        °C.
    amplitude, scale : array or tensor, broadcastable to it
        α, on the log scale, and ℓ, °C.
    step : array or tensor, shape (…, function)
        β, standard normal a priori.

    Returns
    -------
    array or tensor, shape (…, point)
    """
    low, high = SMOOTH_RANGE
    middle, half = (low + high) / 2.0, (high - low) / 2.0
    x = (temperature - middle) / half
    width = scale / half
    curve: Any = 0.0
    for number in range(SMOOTH_BASIS):
        frequency = (number + 1) * np.pi / (2.0 * SMOOTH_WALLS)
        density = amplitude**2 * np.sqrt(2.0 * np.pi) * width
        density = density * xp.exp(-((frequency * width) ** 2) / 2.0)
        weight = step[..., number][..., None] * xp.sqrt(density / SMOOTH_WALLS)
        curve = curve + weight * xp.sin(frequency * (x + SMOOTH_WALLS))
    return curve
