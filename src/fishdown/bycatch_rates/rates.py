"""The rate of one species of the bycatch: draws from its posterior, by importance sampling."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fishdown.bycatch_rates.approximation import approximate
from fishdown.bycatch_rates.design import MONTH_SCALE, SEASON_SCALE, Design
from fishdown.bycatch_rates.seasons import log_density, season_effects
from fishdown.equality import by_value

if TYPE_CHECKING:
    from fishdown.bycatch_rates.approximation import Approximation
    from fishdown.bycatch_rates.net_days import NetDays
    from fishdown.typing import FloatArray

DRAWS = 2_000
# Proposals, and how many are tried if they are not worth enough.
_PROPOSALS, _ENOUGH = (4_000, 16_000, 64_000), 1_000.0
# Fewer effective draws are not reported, as of a fit.
FEWEST_EFFECTIVE = 400.0
_FREEDOM = 6.0


@by_value
@dataclass(frozen=True)
class Rates:
    """Draws of the rate of one species.

    Attributes
    ----------
    design : Design
    clumping : ndarray, shape (draw,)
    season_spread, month_spread : ndarray, shape (draw,)
        Standard deviation of the effects of seasons of lakes, and of months; from the prior where
        there is one alone.
    coefficients : ndarray, shape (draw, coefficient)
        Log-rate of an average season, for twice the mesh, and of each month.
    seasons : ndarray, shape (draw, season)
        Effect of each season of a lake; no columns for one alone.
    effective : float
        How many independent draws they are worth.
    """

    design: Design
    clumping: FloatArray
    season_spread: FloatArray
    month_spread: FloatArray
    coefficients: FloatArray
    seasons: FloatArray
    effective: float

    @property
    def told(self) -> bool:
        """Whether there are enough effective draws to report any number."""
        return self.effective >= FEWEST_EFFECTIVE

    def per_pull(self) -> FloatArray:
        """Return fish a pull in each cell, shape (draw, cell)."""
        log_rate = self.coefficients @ self.design.common.T
        if self.design.seasons:
            log_rate = log_rate + self.seasons[:, self.design.season]
        rate: FloatArray = np.exp(log_rate)
        return rate

    def by_season(self) -> FloatArray:
        """Return fish a pull, averaged over the pulls of each season, shape (draw, season)."""
        first = np.flatnonzero(np.diff(self.design.season, prepend=-1))
        pulls = self.design.pulls
        fish = np.add.reduceat(self.per_pull() * pulls, first, axis=1)
        rate: FloatArray = fish / np.add.reduceat(pulls, first)
        return rate

    def of_pull(
        self, season: int | None, month: int, mesh: float, rng: np.random.Generator
    ) -> FloatArray:
        """Return fish in a pull to come, shape (draw,).

        Parameters
        ----------
        season : int or None
            Place of the season among those with pulls that tell; None for another one.
        month : int
        mesh : float
            log2 of mesh size over the median.
        rng : numpy.random.Generator
        """
        design = self.design
        log_rate = self.coefficients[:, 0].copy()
        if design.mesh_varies:
            log_rate += self.coefficients[:, 1] * mesh
        if month in design.months:
            log_rate += self.coefficients[:, design.first_month + design.months.index(month)]
        elif month != design.only_month:
            log_rate += self.month_spread * rng.standard_normal(len(log_rate))
        if season is None:
            log_rate += self.season_spread * rng.standard_normal(len(log_rate))
        elif design.seasons:
            log_rate += self.seasons[:, season]
        rate: FloatArray = np.exp(log_rate)
        return rate


def fit_rates(days: NetDays, counts: FloatArray, *, seed: int) -> Rates:
    """Draw from the posterior of the rate of one species.

    Parameters
    ----------
    days : NetDays
        At least one.
    counts : ndarray, shape (net_day,)
        Fish of the species.
    seed : int
        Of the random numbers.

    Returns
    -------
    Rates
        `DRAWS` equally weighted draws.
    """
    design = Design.of(days, counts)
    found = approximate(design)
    rng = np.random.default_rng(seed)
    for proposals in _PROPOSALS:
        scales, coefficients, log_weight = _proposed(design, found, proposals, rng)
        weight = np.exp(log_weight - log_weight.max())
        weight /= weight.sum()
        effective = float(1.0 / (weight**2).sum())
        if effective >= _ENOUGH:
            break
    # Systematic resampling, in random order: draws of two species are independent.
    place = np.searchsorted(weight.cumsum(), (np.arange(DRAWS) + rng.uniform()) / DRAWS)
    chosen = rng.permutation(np.minimum(place, proposals - 1))
    scales, coefficients = scales[chosen], coefficients[chosen]
    return Rates(
        design=design,
        clumping=np.exp(scales[:, 0]),
        season_spread=np.exp(scales[:, 1]) if design.seasons else _half_normal(SEASON_SCALE, rng),
        month_spread=np.exp(scales[:, 2]) if design.months else _half_normal(MONTH_SCALE, rng),
        coefficients=coefficients,
        seasons=season_effects(design, coefficients, scales, rng),
        effective=min(effective, float(DRAWS)),
    )


def _half_normal(scale: float, rng: np.random.Generator) -> FloatArray:
    return scale * np.abs(rng.standard_normal(DRAWS))


def _proposed(
    design: Design, found: Approximation, proposals: int, rng: np.random.Generator
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Propose (ln k, ln τ, ln σ) and coefficients; also return their log-weights."""
    points = np.searchsorted(
        found.weight.cumsum(), (np.arange(proposals) + rng.uniform(size=proposals)) / proposals
    )
    points = np.minimum(points, len(found.weight) - 1)
    scales = found.scales[points] + found.widths * rng.uniform(-0.5, 0.5, size=(proposals, 3))
    normal = rng.standard_normal((proposals, design.common.shape[1]))
    normal *= np.sqrt(_FREEDOM / rng.chisquare(_FREEDOM, size=(proposals, 1)))
    factor = found.factor[points]
    away = np.linalg.solve(np.swapaxes(factor, 1, 2), normal[..., None])[..., 0]
    coefficients = found.mode[points] + away
    log_proposal = (
        np.log(found.weight[points])
        + np.log(np.diagonal(factor, axis1=1, axis2=2)).sum(axis=1)
        - 0.5 * (_FREEDOM + normal.shape[1]) * np.log1p((normal**2).sum(axis=1) / _FREEDOM)
    )
    return scales, coefficients, log_density(design, coefficients, scales) - log_proposal
