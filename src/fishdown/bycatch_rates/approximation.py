"""The Laplace approximation of the rates given clumping and spreads, on a grid of these.

Rue, Martino and Chopin 2009, J. R. Stat. Soc. B 71:319–392.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product
from typing import TYPE_CHECKING

import numpy as np

from fishdown.equality import by_value

if TYPE_CHECKING:
    from fishdown.bycatch_rates.design import Design
    from fishdown.typing import FloatArray

_STEPS = 40
# The grid is narrowed to where the posterior is: so often, to so many standard deviations.
_ROUNDS, _REACH = 3, 4.0
_LONGEST_STEP = 2.0
_NEAR = 1e-8


@by_value
@dataclass(frozen=True)
class Approximation:
    """Mode and curvature at each point of the grid.

    Attributes
    ----------
    scales : ndarray, shape (point, 3)
        ln k, ln τ, ln σ.
    widths : ndarray, shape (3,)
        Steps of the grid.
    weight : ndarray, shape (point,)
        Share of the posterior, by the approximation.
    mode : ndarray, shape (point, coefficient)
    season_mode : ndarray, shape (point, season)
    factor : ndarray, shape (point, coefficient, coefficient)
        Cholesky factor of the precision of the coefficients, seasons integrated out.
    """

    scales: FloatArray
    widths: FloatArray
    weight: FloatArray
    mode: FloatArray
    season_mode: FloatArray
    factor: FloatArray


def approximate(design: Design) -> Approximation:
    """Approximate the posterior on a grid that is narrowed to where it is."""
    spans = design.spans
    found = _on_grid(design, spans)
    for _ in range(_ROUNDS):
        mean = found.weight @ found.scales
        sd = np.sqrt(found.weight @ (found.scales - mean) ** 2 + found.widths**2 / 12.0)
        spans = tuple(
            (max(low, centre - _REACH * spread), min(high, centre + _REACH * spread), steps)
            for (low, high, steps), centre, spread in zip(design.spans, mean, sd, strict=True)
        )
        found = _on_grid(design, spans)
    return found


def _on_grid(design: Design, spans: tuple[tuple[float, float, int], ...]) -> Approximation:
    """Find modes and curvatures by Newton's method, at all points of a grid at once."""
    axes, widths = [], []
    for low, high, steps in spans:
        width = (high - low) / steps
        axes.append(low + width * (np.arange(steps) + 0.5))
        widths.append(width)
    scales = np.array(list(product(*axes)))
    k, tau, sigma = np.exp(scales.T)
    mean, sd = design.prior(sigma)
    precision, season_precision = sd**-2, tau[:, None] ** -2
    common = design.common
    total = design.fish + k[:, None] * design.pulls
    mode = np.tile(mean, (len(scales), 1))
    mode[:, 0] = np.log((design.fish.sum() + 0.5) / design.pulls.sum())
    seasons = np.zeros((len(scales), design.seasons))
    eye = np.eye(len(mean))
    products = (common[:, :, None] * common[:, None, :]).reshape(len(common), -1)
    for _ in range(_STEPS):
        share = _share(_log_rate(design, mode, seasons), k[:, None])
        slope = design.fish - total * share
        curve = total * share * (1.0 - share)
        gradient = slope @ common - precision * (mode - mean)
        season_gradient = design.by_season(slope) - season_precision * seasons
        # Seasons do not meet each other: their block is a diagonal, and is eliminated.
        diagonal = design.by_season(curve) + season_precision
        border = np.stack([design.by_season(curve * column) for column in common.T], axis=-1)
        scaled = np.swapaxes(border / diagonal[..., None], 1, 2)
        whole = (curve @ products).reshape(-1, *eye.shape) + precision[:, :, None] * eye
        reduced = whole - scaled @ border
        right = gradient - (scaled @ season_gradient[..., None])[..., 0]
        step = np.linalg.solve(reduced, right[..., None])[..., 0]
        season_step = season_gradient - (border @ step[..., None])[..., 0]
        season_step /= diagonal
        longest = np.maximum(np.abs(step).max(axis=1), np.abs(season_step).max(axis=1, initial=0.0))
        shorter = np.minimum(1.0, _LONGEST_STEP / np.maximum(longest, _NEAR))[:, None]
        mode, seasons = mode + shorter * step, seasons + shorter * season_step
        if longest.max() < _NEAR:
            break
    log_rate = _log_rate(design, mode, seasons)
    log_density = (
        (design.fish * log_rate - total * np.logaddexp(scales[:, :1], log_rate)).sum(axis=1)
        + design.log_constant(scales[:, 0])
        + design.log_prior(scales)
        - 0.5 * (precision * (mode - mean) ** 2).sum(axis=1)
        + 0.5 * np.log(precision).sum(axis=1)
        - 0.5 * (season_precision * seasons**2).sum(axis=1)
        + 0.5 * design.seasons * np.log(season_precision[:, 0])
        - 0.5 * np.linalg.slogdet(reduced)[1]
        - 0.5 * np.log(diagonal).sum(axis=1)
    )
    weight = np.exp(log_density - log_density.max())
    return Approximation(
        scales=scales,
        widths=np.array(widths),
        weight=weight / weight.sum(),
        mode=mode,
        season_mode=seasons,
        factor=np.linalg.cholesky(reduced),
    )


def _log_rate(design: Design, mode: FloatArray, seasons: FloatArray) -> FloatArray:
    rate: FloatArray = mode @ design.common.T
    return rate + seasons[:, design.season] if design.seasons else rate


def _share(log_rate: FloatArray, clumping: FloatArray) -> FloatArray:
    """Return μ / (k + μ)."""
    share: FloatArray = 1.0 / (1.0 + clumping * np.exp(-log_rate))
    return share
