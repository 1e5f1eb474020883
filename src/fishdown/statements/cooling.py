"""The effect of cooling on catchability, lake by lake, in words that a crew can use."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
import xarray as xr

from fishdown.intervals import low_median_high, named_points
from fishdown.models.parts.temperature import NARROWEST_SPAN_C
from fishdown.posterior.cooling import relative_hazard
from fishdown.posterior.quality import judge
from fishdown.units import label, shown, shown_in
from fishdown.words import amount

if TYPE_CHECKING:
    from fishdown.posterior.fitted import FittedCampaign
    from fishdown.typing import FloatArray

# How much colder than the reference the statement looks, in °C, where the pulls reach that far.
COLDER_C = 10.0
COLUMNS = (
    "lake", "cold_c", "warm_c", "factor_median", "factor_low", "factor_high", "half_median_c",
    "half_low_c", "half_high_c", "coldest_pull_c", "warmest_pull_c", "beyond_pulls", "gate",
    "statement"
)  # fmt: skip


def cooling(fit: FittedCampaign, *, despite_gate: bool = False) -> pd.DataFrame:
    """State the catchability ratio of cold to warm water.

    The two temperatures are the model's reference and 10 °C below it, limited to the whole degrees
    within the lake's own readings. Where these span less than 3 °C the statement extrapolates, and
    says so.

    Parameters
    ----------
    fit : FittedCampaign
    despite_gate : bool
        Fill in what a failed gate would withhold; the statement then opens with a warning.

    Returns
    -------
    pandas.DataFrame
        Columns `COLUMNS`, one row for each lake that was netted. The factor (the
        ratio) has no unit; ``half_…_c`` is the temperature of half effect in °C, for the threshold
        curve only.
        Intervals are equal-tailed and hold 90 %. Empty for a model without temperature.
    """
    rows = []
    if fit.spec.part("temperature") != "none":
        with shown_in(fit.units):
            for lake in np.unique(fit.campaign.seasons["lake_index"].values):
                rows.append(_row(fit, int(lake), despite_gate=despite_gate))
    return pd.DataFrame(rows, columns=list(COLUMNS))


def compared_temperatures(
    reference: float, coldest: float, warmest: float
) -> tuple[float, float, bool]:
    """Choose the two temperatures that a statement compares.

    Parameters
    ----------
    reference : float
        Of the model, °C.
    coldest, warmest : float
        Readings at the lake's pulls, °C; NaN if there is none.

    Returns
    -------
    cold, warm : float
        °C.
    beyond : bool
        Whether they lie outside the readings.
    """
    cold, warm = reference - COLDER_C, reference
    if not warmest - coldest >= NARROWEST_SPAN_C:
        return cold, warm, True
    inner = float(math.ceil(coldest)), float(math.floor(warmest))
    drawn_in = max(cold, inner[0]), min(warm, inner[1])
    if drawn_in[1] - drawn_in[0] >= NARROWEST_SPAN_C - 1.0:
        return *drawn_in, False
    # The reference lies outside the readings: compare what they enclose.
    return *inner, False


def _row(fit: FittedCampaign, lake: int, *, despite_gate: bool) -> dict[str, Any]:
    name = str(fit.campaign.lakes["lake"].values[lake])
    coldest, warmest = readings_span(fit, lake)
    cold, warm, beyond = compared_temperatures(fit.spec.reference_temperature, coldest, warmest)
    at_both = relative_hazard(fit, [cold, warm])[:, lake]
    factor = at_both[:, 0] / at_both[:, 1]
    failure = _failure(fit, lake, factor)
    row: dict[str, Any] = {
        "lake": name,
        "cold_c": cold,
        "warm_c": warm,
        "coldest_pull_c": coldest,
        "warmest_pull_c": warmest,
        "beyond_pulls": beyond,
        "gate": failure or "passed",
    }
    if failure and not despite_gate:
        return {**row, "statement": f"Temperature effect withheld for {name}: {failure}."}
    low, median, high = low_median_high(factor)
    row |= named_points("factor_{}", factor)
    warning = f"WARNING, the gate failed ({failure}): " if failure else ""
    said = (
        f"{warning}In {name}, catchability at {_degrees(cold)} is {amount(median)} times (90 % "
        f"interval {amount(low)} to {amount(high)}) that at {_degrees(warm)}"
    )
    if beyond:
        source = (
            "the prior"
            if len(np.unique(fit.campaign.seasons["lake_index"])) == 1
            else "the other lakes and the prior"
        )
        found = _span(coldest, warmest)
        said += f"; {found}, so this ratio comes from {source}."
    elif cold > fit.spec.reference_temperature - COLDER_C:
        said += f"; {_span(coldest, warmest)}, and no statement is made on colder water."
    else:
        said += f"; {_span(coldest, warmest)}."
    if "threshold_temperature" in fit.quantities:
        low, median, high = _half(fit, lake)
        row |= {"half_low_c": low, "half_median_c": median, "half_high_c": high}
        said += (
            " Catchability falls to half of its warm-water value at "
            f"{shown(median, '°C'):.1f} {label('°C')} (90 % interval {shown(low, '°C'):.1f} to "
            f"{shown(high, '°C'):.1f} {label('°C')})"
        )
        said += (
            "." if coldest <= median <= warmest else ", outside the temperature range of its pulls."
        )
    return {**row, "statement": said}


def readings_span(fit: FittedCampaign, lake: int) -> tuple[float, float]:
    """Return the coldest and the warmest reading at the lake's pulls that are not void, °C."""
    pulls = fit.campaign.pulls
    here = fit.campaign.seasons["lake_index"].values[pulls["season_index"].values] == lake
    readings = pulls["temperature"].values[here & ~pulls["spoiled"].values]
    known = readings[~np.isnan(readings)]
    return (float(known.min()), float(known.max())) if len(known) else (np.nan, np.nan)


def _span(coldest: float, warmest: float) -> str:
    if math.isnan(coldest):
        return "no water temperature was recorded at its pulls"
    span = f"{shown(coldest, '°C'):.1f} to {shown(warmest, '°C'):.1f}"
    return f"its pulls span {span} {label('°C')}"


def _degrees(celsius: float) -> str:
    return f"{shown(celsius, '°C'):.4g} {label('°C')}"


def _half(fit: FittedCampaign, lake: int) -> FloatArray:
    season = int(np.flatnonzero(fit.campaign.seasons["lake_index"].values == lake)[0])
    return low_median_high(fit.quantities["threshold_temperature"].isel(season=season).values)


def _failure(fit: FittedCampaign, lake: int, factor: FloatArray) -> str:
    """Return why the ratio of a lake is withheld: a failed gate of its seasons or of itself."""
    seasons = np.flatnonzero(fit.campaign.seasons["lake_index"].values == lake)
    reasons = [fit.failure(int(season)) for season in seasons]
    sampled = fit.tree["sample_stats"].dataset
    shape = sampled.sizes["chain"], sampled.sizes["draw"]
    draws = xr.Dataset({"cooling": (("chain", "draw"), factor.reshape(shape))})
    reasons.append(judge(draws, sampled).failure(0))
    return "; ".join(dict.fromkeys(reason for reason in reasons if reason))
