"""The share of the bycatch that is dead, season by season and for pulls to come.

Beta-binomial by row of the records, beta between seasons of lakes, all integrated by quadrature
(models/README.md, "Bycatch").
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy import special

from fishdown.equality import by_value
from fishdown.intervals import POINTS

if TYPE_CHECKING:
    from fishdown.typing import FloatArray, IntArray

_SHARES, _MEANS, _CORRELATIONS = 240, 32, 8
# Beta priors of the correlation between fish of a row, and between fish of a season of a lake
# (judgement, no source).
_IN_ROW, _IN_SEASON = (1.0, 4.0), (1.0, 19.0)


@by_value
@dataclass(frozen=True)
class DeadShare:
    """Posterior of the dead share of one species, on a grid.

    Attributes
    ----------
    share : ndarray, shape (share,)
        Values of the dead share.
    correlation : ndarray, shape (correlation,)
        Values of the correlation between fish of a row.
    chance : ndarray, shape (season, share)
        Posterior of the share of each season.
    joint : ndarray, shape (season, correlation, share)
        The same with the correlation; the last season is one without any record.
    """

    share: FloatArray
    correlation: FloatArray
    chance: FloatArray
    joint: FloatArray

    def points(self, season: int) -> FloatArray:
        """Return low, median and high of the share of a season, by its position."""
        below = np.concatenate([[0.0], self.chance[season].cumsum()])
        angles: FloatArray = np.interp(POINTS, below / below[-1], _edges())
        return np.sin(angles) ** 2

    def draws(
        self, season: int, count: int, rng: np.random.Generator
    ) -> tuple[FloatArray, FloatArray]:
        """Draw the dead share of a season, and the correlation within a row.

        Parameters
        ----------
        season : int
            Its position; -1 for one without any record.
        count : int
        rng : numpy.random.Generator

        Returns
        -------
        share, correlation : ndarray, shape (count,)
        """
        joint = self.joint[season].ravel()
        place = rng.choice(len(joint), size=count, p=joint / joint.sum())
        which, share = np.divmod(place, len(self.share))
        # Evenly within a step of the grid.
        angle = np.arcsin(np.sqrt(self.share[share]))
        angle += (rng.uniform(size=count) - 0.5) * 0.5 * np.pi / len(self.share)
        return np.sin(angle) ** 2, self.correlation[which]


def dead_share(dead: FloatArray, fish: FloatArray, season: IntArray, seasons: int) -> DeadShare:
    """Estimate the dead share of a species.

    Parameters
    ----------
    dead, fish : ndarray, shape (row,)
        Of rows of bycatch in seasons with an entry of the dead.
    season : ndarray, shape (row,)
        Position of the season of a lake.
    seasons : int
        How many there are.
    """
    # Even steps on the arcsine scale are fine where shares are small.
    angle, of_mean = (_middles(count) * np.pi / 2 for count in (_SHARES, _MEANS))
    share, mean = np.sin(angle) ** 2, np.sin(of_mean) ** 2
    correlation, in_season = (
        special.betaincinv(*prior, _middles(_CORRELATIONS)) for prior in (_IN_ROW, _IN_SEASON)
    )
    log_rows = np.zeros((seasons + 1, _CORRELATIONS, _SHARES))
    filled = fish > 0
    keys = np.stack([dead[filled], fish[filled]])
    pairs, which = np.unique(keys, axis=1, return_inverse=True)
    of_dead, of_fish = pairs[:, :, None, None]
    log_pairs = _log_beta_binomial(of_dead, of_fish, share, correlation[:, None])
    np.add.at(log_rows, season[filled], log_pairs[which.reshape(-1)])
    # Between seasons: each value of the share has the prior mass of its step.
    between = (1.0 - in_season) / in_season
    first, second = mean[:, None] * between, (1.0 - mean[:, None]) * between
    edges = np.sin(_edges()) ** 2
    prior = np.diff(special.betainc(first[..., None], second[..., None], edges), axis=-1)
    height = log_rows.max(axis=(1, 2), keepdims=True)
    rows = np.exp(log_rows - height)
    # Axes: season, correlation in a row, mean, correlation between seasons.
    mass = np.einsum("src,mbc->srmb", rows, prior)
    log_mass = np.log(np.maximum(mass, 1e-300)) + height[..., None]
    # The mean is uniform, so that a point of its grid has the mass of its step.
    posterior = log_mass.sum(axis=0) + np.log(np.sin(2.0 * of_mean))[:, None]
    posterior = np.exp(posterior - posterior.max())
    posterior /= posterior.sum()
    joint = rows * np.einsum("rmb,srmb,mbc->src", posterior, 1.0 / np.maximum(mass, 1e-300), prior)
    joint /= joint.sum(axis=(1, 2), keepdims=True)
    return DeadShare(share, correlation, joint.sum(axis=1), joint)


def _edges() -> FloatArray:
    edges: FloatArray = np.arange(_SHARES + 1) / _SHARES * np.pi / 2
    return edges


def _middles(count: int) -> FloatArray:
    middles: FloatArray = (np.arange(count) + 0.5) / count
    return middles


def _log_beta_binomial(
    dead: FloatArray, fish: FloatArray, share: FloatArray, correlation: FloatArray
) -> FloatArray:
    """Return the log-probability of so many dead, less the binomial coefficient.

    Shapes (…, 1, 1), (share,) and (correlation, 1).
    """
    size = (1.0 - correlation) / correlation
    first, second = share * size, (1.0 - share) * size
    density: FloatArray = special.betaln(dead + first, fish - dead + second) - special.betaln(
        first, second
    )
    return density
