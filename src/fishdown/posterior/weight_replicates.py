"""Replicated weighings: posterior predictive draws of the mean weight of the fish of each catch.

Gamma numbers and, where fish of a catch are alike, an inverse gamma factor (`models/README.md`,
"Fish weighed from catches"); no code is shared with the models' densities.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fishdown.equality import by_value
from fishdown.models.parts.weights.left import DAYS, log_left, log_weight_change
from fishdown.models.parts.weights.weighings import weighings

if TYPE_CHECKING:
    import xarray as xr

    from fishdown.campaign import Campaign
    from fishdown.models.spec import ModelSpec
    from fishdown.typing import FloatArray, IntArray


@by_value
@dataclass(frozen=True)
class Weighed:
    """The fish weighed from each catch, or on each day of electrofishing, and what was expected.

    Attributes
    ----------
    season : ndarray of int, shape (weighing,)
        Position of each weighing's season.
    days : ndarray, shape (weighing,)
        Since the season's first pull.
    log_mean : ndarray, shape (weighing,)
        Logarithm of the mean weight of its fish, kg.
    expected, drawn : ndarray, shape (draw, weighing)
        What each draw of the posterior expects it to be, and a replicate of it.
    """

    season: IntArray
    days: FloatArray
    log_mean: FloatArray
    expected: FloatArray
    drawn: FloatArray

    def of_season(self, season: int) -> Weighed:
        """Return the weighings of one season, by its position."""
        mine = np.flatnonzero(self.season == season)
        return Weighed(
            self.season[mine],
            self.days[mine],
            self.log_mean[mine],
            self.expected[:, mine],
            self.drawn[:, mine],
        )


def weighed_again(
    few: xr.Dataset, campaign: Campaign, spec: ModelSpec, rng: np.random.Generator
) -> Weighed:
    """Weigh as many fish of every catch as were weighed, at draws of a posterior.

    Catch by catch whatever the model is: one that takes fish to be weighed at random expects the
    same of all catches of a season.

    Parameters
    ----------
    few : xarray.Dataset
        Draws of the model's variables, dimensions (sample, …).
    spec : ModelSpec
        The model as it was fitted; with weights.
    """
    groups = weighings(campaign, {"weighed": "by_catch"})
    fish = campaign.fish["weight"].values[campaign.fish["season_index"].values >= 0]
    known = ~np.isnan(fish)
    count = np.bincount(groups.of_fish[known], minlength=len(groups.season))
    total = np.bincount(groups.of_fish[known], fish[known], len(groups.season))
    some = count > 0
    season, count, time = groups.season[some], count[some].astype(float), groups.time[some]
    expected = np.log(few["mean_weight"].transpose("sample", "season").values[:, season])
    shape = 1.0 / _variation(few, campaign, spec)[:, season] ** 2
    factor: FloatArray = np.ones((len(expected), 1))
    if spec.part("weighed") != "at_random":
        by_nets, trend, spread = (
            few[name].values[:, None]
            for name in ("net_selectivity", "weight_trend", "weight_pull_spread")
        )
        left = log_left(few["abundance"].values[:, season], groups.gone[some])
        expected = expected + log_weight_change(left, time, by_nets, trend)
        electric: FloatArray = np.ones_like(by_nets)
        if spec.part("weighed") == "by_gear":
            electric = few["electrofishing_selectivity"].values[:, None]
        expected = expected + np.log(np.where(groups.netted[some], by_nets, electric))
        a = 2.0 + spread**-2
        factor = (a - 1.0) / rng.gamma(np.broadcast_to(a, expected.shape))
    # A mean of gamma numbers is gamma.
    drawn = expected + np.log(factor * rng.gamma(count * shape) / (count * shape))
    return Weighed(season, np.rint(DAYS * time), np.log(total[some] / count), expected, drawn)


def _variation(few: xr.Dataset, campaign: Campaign, spec: ModelSpec) -> FloatArray:
    """Return the coefficient of variation of single weights, shape (draw, season)."""
    lake = campaign.seasons["lake_index"].values
    drawn = few["weight_variation"].values
    variation: FloatArray = drawn[:, lake] if drawn.ndim > 1 else np.repeat(
        drawn[:, None], len(lake), axis=1
    )  # fmt: skip
    if spec.part("lengths") == "none":
        return variation
    scatter = few["length_scatter"].values[:, None]
    # Of a product of independent numbers, that at length being log-normal.
    return np.sqrt((1.0 + variation**2) * np.exp(scatter**2) - 1.0)
