"""Prior predictions for each lake: abundance, catchability, first catch, biomass density."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from fishdown.intervals import low_median_high
from fishdown.models.parts.catch import beta_shape

if TYPE_CHECKING:
    from fishdown.campaign import Campaign
    from fishdown.models.spec import ModelSpec
    from fishdown.typing import FloatArray

SMALLEST_SHAPE = 1e-12
SMALLEST_SHARE, LARGEST_SHARE = 1e-12, 1.0 - 1e-12
# More than any lake holds; beyond it floating-point whole numbers are no longer exact.
MOST_FISH = 1e15
# Of the ratio of two lakes: what is beyond it, in a model file of its own, is as impossible.
MOST_RATIO = 1e15


def implied(spec: ModelSpec, campaign: Campaign, *, draws: int, seed: int) -> pd.DataFrame:
    """Summarise draws of each lake from the priors.

    Parameters
    ----------
    spec : ModelSpec
    campaign : Campaign
        Only the lakes' areas are used.
    draws, seed : int
        Number of prior draws and their seed.

    Returns
    -------
    pandas.DataFrame
        lake, quantity, unit, median, low, high; low and high enclose 90 % of the prior.
    """
    rng = np.random.default_rng(seed)
    area = campaign.lakes["area"].values
    size = (draws, len(area))
    found: dict[tuple[str, str], FloatArray] = {}
    density = spec.priors["density"].draw(rng, size)
    found["abundance before netting", "fish"] = density * area
    if "catchability" in spec.priors:
        found["catchability", "%"] = 100.0 * spec.priors["catchability"].draw(rng, size)
        taken = found["catchability", "%"] / 100.0
        found["catch of the first pull", "fish"] = _catch(spec, rng, density * area, taken)
    elif "area_fished_ha" in spec.priors:
        taken = -np.expm1(-_area_fished(spec, rng, area, draws) / area)
        found["catchability at the reference temperature", "%"] = 100.0 * taken
        caught = _catch(spec, rng, density * area, taken)
        found["catch of the first pull at the reference temperature", "fish"] = caught
    if "mean_weight" in spec.priors:
        shape = size if spec.part("pooling") == "none" else (draws, 1)
        weight = spec.priors["mean_weight"].draw(rng, shape)
        if spec.part("pooling") == "lakes":
            spread = spec.priors["weight_spread"].draw(rng, (draws, 1))
            weight = weight * _ratio(spread * rng.normal(size=size))
        if spec.part("sizes") == "by_lake_and_year":
            spread = spec.priors["weight_year_spread"].draw(rng, (draws, 1))
            weight = weight * _ratio(spread * rng.normal(size=size))
        found["biomass density before netting", "kg/ha"] = density * weight
    rows = []
    for position, lake in enumerate(campaign.lakes["lake"].values):
        for (quantity, unit), values in found.items():
            low, median, high = low_median_high(values[:, position])
            rows.append((str(lake), quantity, unit, median, low, high))
    return pd.DataFrame(rows, columns=["lake", "quantity", "unit", "median", "low", "high"])


def _area_fished(
    spec: ModelSpec, rng: np.random.Generator, area: FloatArray, draws: int
) -> FloatArray:
    prior = spec.priors["area_fished_ha"]
    if spec.part("pooling") == "none":
        return prior.draw(rng, (draws, len(area)))
    typical = prior.draw(rng, (draws, 1))
    exponent = spec.priors["area_exponent"].draw(rng, (draws, 1))
    spread = spec.priors["lake_spread"].draw(rng, (draws, 1))
    log_area = np.log(area) - np.log(area).mean()
    step = rng.normal(size=(draws, len(area)))
    fished: FloatArray = typical * _ratio((1.0 - exponent) * log_area + spread * step)
    return fished


def _ratio(logarithm: FloatArray) -> FloatArray:
    most = np.log(MOST_RATIO)
    ratio: FloatArray = np.exp(np.clip(logarithm, -most, most))
    return ratio


def _catch(
    spec: ModelSpec, rng: np.random.Generator, abundance: FloatArray, taken: FloatArray
) -> FloatArray:
    """Draw the catch of a pull, beta-binomial or binomial."""
    share = taken
    if spec.part("catch") == "schooling":
        pooled = spec.part("pooling") == "lakes"
        schooling = spec.priors["schooling"].draw(rng, (len(taken), 1) if pooled else taken.shape)
        if pooled:
            spread = spec.priors["schooling_spread"].draw(rng, (len(taken), 1))
            schooling = schooling * _ratio(spread * rng.normal(size=taken.shape))
        a, b = beta_shape(-np.log1p(-np.clip(taken, SMALLEST_SHARE, LARGEST_SHARE)), schooling)
        # NumPy's beta needs both parameters above zero.
        share = rng.beta(np.maximum(a, SMALLEST_SHAPE), np.maximum(b, SMALLEST_SHAPE))
    fish = np.minimum(np.rint(abundance), MOST_FISH).astype(np.int64)
    return rng.binomial(fish, share).astype(float)
