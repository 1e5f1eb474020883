"""The effects of seasons of lakes, given all else: their integral, and draws of them.

Given the rest seasons are independent of one another, each with a log-concave density of its own.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy.interpolate import CubicSpline

if TYPE_CHECKING:
    from collections.abc import Iterator

    from fishdown.bycatch_rates.design import Design
    from fishdown.typing import FloatArray

# Nodes of the adaptive Gauss-Hermite rule (Liu and Pierce 1994, Biometrika 81:624–629).
_NODES, _WEIGHTS = np.polynomial.hermite_e.hermegauss(9)
_WEIGHTS = _WEIGHTS / _WEIGHTS.sum()
_CANDIDATES, _FREEDOM = 12, 4.0
_NEWTON_STEPS, _LONGEST_STEP = 4, 2.0
# Numbers of a block of draws that are held at once.
_BLOCK = 100_000
_KNOTS = 96


def log_density(design: Design, coefficients: FloatArray, scales: FloatArray) -> FloatArray:
    """Return the log-density of coefficients and scales, seasons integrated out, less a constant.

    Parameters
    ----------
    design : Design
    coefficients : ndarray, shape (draw, coefficient)
    scales : ndarray, shape (draw, 3)
        ln k, ln τ, ln σ.

    Returns
    -------
    ndarray, shape (draw,)
    """
    low, high, _ = design.spans[0]
    knots = np.linspace(low, high, _KNOTS)
    constant = CubicSpline(knots, design.log_constant(knots))
    mean, sd = design.prior(np.exp(scales[:, 2]))
    total: FloatArray = design.log_prior(scales) + constant(scales[:, 0])
    total -= (0.5 * ((coefficients - mean) / sd) ** 2 + np.log(sd)).sum(axis=1)
    for here in _blocks(design, len(scales), len(_NODES)):
        level = coefficients[here] @ design.common.T
        total[here] += _log_likelihood(design, level, scales[here])
    return total


def season_effects(
    design: Design, coefficients: FloatArray, scales: FloatArray, rng: np.random.Generator
) -> FloatArray:
    """Draw the effect of each season given the rest, shape (draw, season).

    Of candidates from a Student t about the mode one is taken by weight (sampling and importance
    resampling: Rubin 1987, J. Am. Stat. Assoc. 82:543–546; reference from memory).
    """
    effects = np.zeros((len(scales), design.seasons))
    if not design.seasons:
        return effects
    for here in _blocks(design, len(scales), _CANDIDATES):
        level, scale = coefficients[here] @ design.common.T, scales[here]
        mode, sd = _mode(design, level, scale)
        away = rng.standard_t(_FREEDOM, size=(len(scale), _CANDIDATES, design.seasons))
        effect = mode[:, None] + sd[:, None] * away
        log_weight = _given_effect(design, level, scale, effect)
        log_weight += 0.5 * (_FREEDOM + 1.0) * np.log1p(away**2 / _FREEDOM)
        weight = np.exp(log_weight - log_weight.max(axis=1, keepdims=True)).cumsum(axis=1)
        limit = weight[:, -1:] * rng.uniform(size=(len(scale), 1, design.seasons))
        taken = (weight < limit).sum(axis=1, keepdims=True)
        effects[here] = np.take_along_axis(effect, taken, axis=1)[:, 0]
    return effects


def _log_likelihood(design: Design, level: FloatArray, scales: FloatArray) -> FloatArray:
    if not design.seasons:
        total = design.fish + np.exp(scales[:, :1]) * design.pulls
        told = design.fish * level - total * np.logaddexp(scales[:, :1], level)
        alone: FloatArray = told.sum(axis=1)
        return alone
    mode, sd = _mode(design, level, scales)
    effect = mode[:, None] + sd[:, None] * _NODES[:, None]
    log_height = _given_effect(design, level, scales, effect)
    log_height += (0.5 * _NODES**2 + np.log(_WEIGHTS))[:, None]
    highest = log_height.max(axis=1)
    mass = highest + np.log(np.exp(log_height - highest[:, None]).sum(axis=1))
    together: FloatArray = (mass + np.log(sd) - scales[:, 1:2]).sum(axis=1)
    return together


def _mode(design: Design, level: FloatArray, scales: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return mode and standard deviation by curvature of each effect, shape (draw, season)."""
    k, precision = np.exp(scales[:, :1]), np.exp(-2.0 * scales[:, 1:2])
    total = design.fish + k * design.pulls
    mode = np.zeros((len(level), design.seasons))
    for _ in range(_NEWTON_STEPS):
        share = 1.0 / (1.0 + k * np.exp(-level - mode[:, design.season]))
        slope = design.by_season(design.fish - total * share) - precision * mode
        curve = design.by_season(total * share * (1.0 - share)) + precision
        mode = mode + np.clip(slope / curve, -_LONGEST_STEP, _LONGEST_STEP)
    return mode, curve**-0.5


def _given_effect(
    design: Design, level: FloatArray, scales: FloatArray, effect: FloatArray
) -> FloatArray:
    """Return the log-density of counts and effects, shape (draw, effect, season)."""
    k = np.exp(scales[:, :1])
    total = design.fish + k * design.pulls
    # Terms without a logarithm are summed over a season's cells beforehand.
    density: FloatArray = design.by_season(design.fish * level)[:, None]
    density = density + design.by_season(design.fish) * effect
    density -= 0.5 * (effect * np.exp(-scales[:, None, 1:2])) ** 2
    rate = np.exp(effect)[..., design.season]
    rate *= np.exp(level)[:, None]
    rate += k[:, None]
    np.log(rate, out=rate)
    rate *= total[:, None]
    density -= design.by_season(rate)
    return density


def _blocks(design: Design, draws: int, times: int) -> Iterator[slice]:
    block = max(1, _BLOCK // (times * len(design.fish)))
    return (slice(first, first + block) for first in range(0, draws, block))
