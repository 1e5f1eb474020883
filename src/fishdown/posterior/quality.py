"""The quality gate: whether the sampled posterior is good enough for statements.

Rank-normalised R-hat at most 1.01, bulk and tail effective sample size at least 400 on every
reported quantity, and no divergence [1]_.

References
----------
.. [1] Vehtari, Gelman, Simpson, Carpenter & Bürkner 2021. Rank-normalization, folding, and
   localization: an improved R-hat. Bayesian Analysis 16:667–718. doi:10.1214/20-BA1221
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import xarray as xr

from fishdown.equality import by_value
from fishdown.intervals import TAILS
from fishdown.words import counted

if TYPE_CHECKING:
    from fishdown.typing import FloatArray

LARGEST_RHAT = 1.01
SMALLEST_ESS = 400.0
# Tail ESS is the smaller one of these two quantiles', and these bound the intervals reported.


@by_value
@dataclass(frozen=True)
class Quality:
    """Convergence of every reported quantity.

    Attributes
    ----------
    rhat, ess_bulk, ess_tail : xarray.Dataset
        One value for each quantity (and season).
    divergences : int
        After the last attempt.
    """

    rhat: xr.Dataset
    ess_bulk: xr.Dataset
    ess_tail: xr.Dataset
    divergences: int

    def failure(self, season: int) -> str:
        """Return why statements on a season must be withheld; empty when they need not be."""
        reasons = []
        if self.divergences:
            reasons.append(counted(self.divergences, "divergent transition"))
        reasons += _worst("R-hat", self.rhat, season, at_most=LARGEST_RHAT)
        reasons += _worst("bulk ESS", self.ess_bulk, season, at_least=SMALLEST_ESS)
        reasons += _worst("tail ESS", self.ess_tail, season, at_least=SMALLEST_ESS)
        return "; ".join(reasons)

    @property
    def passed(self) -> bool:
        """Whether every season passes."""
        seasons = range(self.rhat.sizes["season"])
        return not any(self.failure(season) for season in seasons)

    def entry(self) -> dict[str, float | int | bool]:
        """Return the worst figures as plain values for the record of a fit."""
        return {
            "divergences": self.divergences,
            "largest_rhat": float(np.max(_flat(self.rhat))),
            "smallest_ess_bulk": float(np.min(_flat(self.ess_bulk))),
            "smallest_ess_tail": float(np.min(_flat(self.ess_tail))),
            "passed": self.passed,
        }


def judge(quantities: xr.Dataset, sample_stats: xr.Dataset) -> Quality:
    """Compute R-hat and effective sample sizes of the reported quantities.

    Parameters
    ----------
    quantities : xarray.Dataset
        From `reported_quantities`.
    sample_stats : xarray.Dataset
        With ``diverging``, dimensions (chain, draw).
    """
    import arviz_stats

    # A quantity that is the same in every draw (nothing was removed, say) has nothing to converge,
    # and neither has one that cannot be estimated.
    constant = quantities.max(("chain", "draw")) == quantities.min(("chain", "draw"))
    constant |= quantities.isnull().all(("chain", "draw"))
    size = quantities.sizes["chain"] * quantities.sizes["draw"]
    with np.errstate(invalid="ignore", divide="ignore"):
        rhat = arviz_stats.rhat(quantities)
        bulk = arviz_stats.ess(quantities, method="bulk")
        tail = arviz_stats.ess(quantities, method="tail", prob=TAILS)
    return Quality(
        rhat=rhat.where(~constant, 1.0),
        ess_bulk=bulk.where(~constant, float(size)),
        ess_tail=tail.where(~constant, float(size)),
        divergences=int(sample_stats["diverging"].values.sum()),
    )


def _worst(
    what: str,
    values: xr.Dataset,
    season: int,
    *,
    at_most: float = np.inf,
    at_least: float = -np.inf,
) -> list[str]:
    failing = {}
    for name, array in values.data_vars.items():
        value = float(array.values[season] if "season" in array.dims else array)
        # Tested as "not inside the limit", so that an undefined figure fails too.
        if not at_least <= value <= at_most:
            failing[name] = value
    if not failing:
        return []
    above = np.isfinite(at_most)
    worst = max(failing, key=lambda name: _badness(failing[name], above=above))
    said = f"{what} of {worst} is {_rounded(failing[worst], above=above)}, "
    said += f"above {at_most:g}" if above else f"below {at_least:g}"
    others = len(failing) - 1
    if others:
        said += f" ({others} other quantit{'ies fail' if others > 1 else 'y fails'} too)"
    return [said]


def _badness(value: float, *, above: bool) -> float:
    if math.isnan(value):
        return math.inf
    return value if above else -value


def _rounded(value: float, *, above: bool) -> str:
    # Away from the limit, or a figure just outside it would read as if it were inside.
    if not math.isfinite(value):
        return "not defined"
    return f"{math.ceil(1000.0 * value) / 1000.0:.3f}" if above else f"{math.floor(value)}"


def _flat(values: xr.Dataset) -> FloatArray:
    return np.concatenate([np.ravel(array.values) for array in values.data_vars.values()])
