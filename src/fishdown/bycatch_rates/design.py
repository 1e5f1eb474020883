"""What the rate of one species may depend on, and its priors."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy import special

from fishdown.equality import by_value

if TYPE_CHECKING:
    from fishdown.bycatch_rates.net_days import NetDays
    from fishdown.typing import FloatArray, IntArray

# Priors and their sources: models/README.md, "Bycatch".
LOG_RATE = (math.log(0.5), 2.5)
LOG_CLUMPING = (math.log(0.6), 1.2)
SEASON_SCALE, MONTH_SCALE = 1.0, 0.5
MESH_SD = 1.0
# Where (ln k, ln τ, ln σ) are looked for, and in how many steps.
_SPANS = ((-4.11, 3.09, 8), (math.log(0.02), math.log(4.0), 6), (math.log(0.02), math.log(2.5), 5))
_FIXED = (math.log(1e-3), math.log(1e-3), 1)


@by_value
@dataclass(frozen=True)
class Design:
    """One species: its counts, and the columns of the log-rate.

    Attributes
    ----------
    fish, pulls : ndarray, shape (cell,)
        Of cells of pulls that are alike.
    common : ndarray, shape (cell, coefficient)
        One, the mesh if it varies, and a column a month if there are several.
    season : ndarray, shape (cell,)
        Position of the season of a lake, ascending.
    seasons : int
        How many have an effect of their own: 0 for one alone.
    months : tuple of int
        Calendar months with an effect: none for one alone.
    only_month : int or None
        That one.
    mesh_varies : bool
    clumping : ndarray, shape (2, pair)
        Fish and pulls of nets and days, each pair once.
    times : ndarray, shape (pair,)
        How many nets and days have the pair.
    """

    fish: FloatArray
    pulls: FloatArray
    common: FloatArray
    season: IntArray
    seasons: int
    months: tuple[int, ...]
    only_month: int | None
    mesh_varies: bool
    clumping: FloatArray
    times: FloatArray

    @classmethod
    def of(cls, days: NetDays, counts: FloatArray) -> Design:
        """Make the design of a species from its counts by net and day."""
        cells = days.cells
        names, season = np.unique(cells["season"].to_numpy(), return_inverse=True)
        months = np.unique(cells["month"].to_numpy())
        mesh = cells["mesh"].to_numpy(dtype=float)
        mesh_varies = bool(np.ptp(mesh) > 0.0)
        columns = [np.ones(len(cells))]
        if mesh_varies:
            columns.append(mesh)
        if len(months) > 1:
            columns += [(cells["month"] == month).to_numpy(dtype=float) for month in months]
        pairs, times = np.unique(np.stack([counts, days.pulls]), axis=1, return_counts=True)
        return cls(
            fish=days.of_cells(counts),
            pulls=days.cell_pulls,
            common=np.stack(columns, axis=1),
            season=season.reshape(-1),
            seasons=len(names) if len(names) > 1 else 0,
            months=tuple(months.tolist()) if len(months) > 1 else (),
            only_month=int(months[0]) if len(months) == 1 else None,
            mesh_varies=mesh_varies,
            clumping=pairs,
            times=times.astype(float),
        )

    @property
    def first_month(self) -> int:
        """Position of the first month among the coefficients."""
        return 2 if self.mesh_varies else 1

    @property
    def spans(self) -> tuple[tuple[float, float, int], ...]:
        """Ends and number of steps of ln k, ln τ and ln σ; τ and σ fixed where they say nothing."""
        clumping, season, month = _SPANS
        return clumping, season if self.seasons else _FIXED, month if self.months else _FIXED

    def by_season(self, values: FloatArray) -> FloatArray:
        """Sum the last axis, over cells, to seasons with an effect of their own."""
        if not self.seasons:
            return np.zeros((*values.shape[:-1], 0))
        first = np.flatnonzero(np.diff(self.season, prepend=-1))
        summed: FloatArray = np.add.reduceat(values, first, axis=-1)
        return summed

    def log_constant(self, log_clumping: FloatArray) -> FloatArray:
        """Return the part of the log-likelihood that the rates do not change, by clumping.

        Negative binomial, of size clumping times pulls for each net and day.
        """
        k = np.exp(log_clumping)[:, None]
        fish, pulls = self.clumping
        gammas = special.gammaln(fish + k * pulls) - special.gammaln(k * pulls)
        total: FloatArray = gammas @ self.times + k[:, 0] * log_clumping * self.pulls.sum()
        return total

    def prior(self, sigma: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return means (coefficient,) and sds (…, coefficient) of the coefficients."""
        mean = np.zeros(self.common.shape[1])
        mean[0] = LOG_RATE[0]
        sd = np.full((*sigma.shape, len(mean)), MESH_SD)
        sd[..., 0] = LOG_RATE[1]
        sd[..., self.first_month :] = sigma[..., None]
        return mean, sd

    def log_prior(self, scales: FloatArray) -> FloatArray:
        """Return the log-density of ln k, ln τ and ln σ, shape (…, 3), less a constant."""
        mean, sd = LOG_CLUMPING
        total: FloatArray = -0.5 * ((scales[..., 0] - mean) / sd) ** 2
        if self.seasons:
            total = total + _half_normal(scales[..., 1], SEASON_SCALE)
        if self.months:
            total = total + _half_normal(scales[..., 2], MONTH_SCALE)
        return total


def _half_normal(log_sd: FloatArray, scale: float) -> FloatArray:
    """Return the log-density of the logarithm of a half-normal variable, less a constant."""
    density: FloatArray = log_sd - 0.5 * (np.exp(log_sd) / scale) ** 2
    return density
