"""Whether stated probabilities come true: reliability curve, score and its parts.

The curve is the isotonic regression of what happened on what was stated; the Brier score then falls
apart exactly into miscalibration, discrimination and the uncertainty of the outcome itself [1]_:
score = miscalibration − discrimination + uncertainty.

References
----------
.. [1] Dimitriadis, Gneiting & Jordan 2021. Stable reliability diagrams for probabilistic
   classifiers. PNAS 118:e2016191118. doi:10.1073/pnas.2016191118
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
from scipy.optimize import isotonic_regression
from scipy.stats import rankdata

from fishdown.equality import by_value
from fishdown.intervals import TAILS

if TYPE_CHECKING:
    from fishdown.typing import FloatArray

EDGES = (0.0, 0.01, 0.1, 0.33, 0.5, 0.66, 0.9, 0.99, 1.0)
RESAMPLES = 2_000
# Of calibrated forecasters, so many stay inside the band of the whole curve.
INSIDE = 0.95


@by_value
@dataclass(frozen=True)
class Reliability:
    """Stated probabilities beside what happened.

    Attributes
    ----------
    brier, miscalibration, discrimination, uncertainty : float
        Mean squared difference of probability and outcome, and its parts.
    miscalibration_limit : float
        What 95 of 100 perfectly calibrated forecasters stay below, with these probabilities.
    curve : pandas.DataFrame
        stated, happened (isotonic), low, high: the consistency band, that 95 of 100 calibrated
        forecasters do not leave anywhere; usual_low, usual_high: what holds 90 of 100 at each
        point by itself.
    bins : pandas.DataFrame
        One row a range of stated probabilities: count, stated (mean), happened (share), low, high.
    """

    brier: float
    miscalibration: float
    discrimination: float
    uncertainty: float
    miscalibration_limit: float
    curve: pd.DataFrame
    bins: pd.DataFrame

    @property
    def calibrated(self) -> bool:
        """Whether the miscalibration is no more than chance makes."""
        return self.miscalibration <= self.miscalibration_limit

    @property
    def inside(self) -> bool:
        """Whether the curve stays in its consistency band from end to end."""
        happened = self.curve["happened"]
        return bool(happened.between(self.curve["low"], self.curve["high"]).all())


def reliability(stated: Any, happened: Any, *, seed: int = 1) -> Reliability:
    """Hold stated probabilities against what happened.

    Parameters
    ----------
    stated : array_like, shape (case,)
        Probabilities.
    happened : array_like of bool, shape (case,)
    seed : int
        Of the resampled outcomes that make the bands.
    """
    p = np.asarray(stated, dtype=float)
    y = np.asarray(happened, dtype=float)
    order = np.argsort(p, kind="stable")
    p, y = p[order], y[order]
    fitted = isotonic(p, y)
    rng = np.random.default_rng(seed)
    resampled = (rng.uniform(size=(RESAMPLES, len(p))) < p).astype(float)
    curves = np.array([isotonic(p, one) for one in resampled])
    low, high = _band(curves)
    usual_low, usual_high = np.quantile(curves, TAILS, axis=0)
    chance = ((resampled - p) ** 2).mean(axis=1) - ((curves - resampled) ** 2).mean(axis=1)
    brier, best = float(((p - y) ** 2).mean()), float(((fitted - y) ** 2).mean())
    base = float(((y.mean() - y) ** 2).mean())
    return Reliability(
        brier=brier,
        miscalibration=brier - best,
        discrimination=base - best,
        uncertainty=base,
        miscalibration_limit=float(np.quantile(chance, 0.95)),
        curve=pd.DataFrame(
            {
                "stated": p,
                "happened": fitted,
                "low": low,
                "high": high,
                "usual_low": usual_low,
                "usual_high": usual_high,
            }
        ),
        bins=_bins(p, y, resampled),
    )


def _band(curves: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the narrowest band, as far in at every point, that holds whole curves with `INSIDE`.

    Of bands from the k-th lowest value to the k-th highest at each point, the one with the largest
    k: a curve is inside if nowhere fewer than k curves are as low as it, or as high.
    """
    as_low = rankdata(curves, method="max", axis=0)
    as_high = rankdata(-curves, method="max", axis=0)
    deepest = np.minimum(as_low, as_high).min(axis=1)
    k = int(np.quantile(deepest, 1.0 - INSIDE, method="lower"))
    ordered = np.sort(curves, axis=0)
    return ordered[k - 1], ordered[-k]


def isotonic(p: FloatArray, y: FloatArray) -> FloatArray:
    """Rise through outcomes as least squares would; equal probabilities count as one.

    Parameters
    ----------
    p : ndarray, shape (case,)
        Stated probabilities, rising.
    y : ndarray, shape (case,)
        1 where it happened, else 0.

    Returns
    -------
    ndarray, shape (case,)
    """
    _, first, where, count = np.unique(
        p, return_index=True, return_inverse=True, return_counts=True
    )
    mean = np.add.reduceat(y, first) / count
    rising: FloatArray = isotonic_regression(mean, weights=count.astype(float)).x
    return rising[where]


def _bins(p: FloatArray, y: FloatArray, resampled: FloatArray) -> pd.DataFrame:
    rows = []
    place = np.clip(np.digitize(p, EDGES) - 1, 0, len(EDGES) - 2)
    for index, (start, stop) in enumerate(pairwise(EDGES)):
        mine = place == index
        if not mine.any():
            continue
        low, high = np.quantile(resampled[:, mine].mean(axis=1), TAILS)
        rows.append((start, stop, int(mine.sum()), p[mine].mean(), y[mine].mean(), low, high))
    columns = ["from", "to", "count", "stated", "happened", "low", "high"]
    return pd.DataFrame(rows, columns=columns)
