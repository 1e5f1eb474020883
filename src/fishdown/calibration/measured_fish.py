"""The fish that the crew weighs and measures of lakes drawn from the priors.

As in `truth`, the formulas are those of `models/README.md`, written again in plain NumPy.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    import xarray as xr

    from fishdown.calibration.truth import Truth
    from fishdown.campaign import Campaign
    from fishdown.typing import FloatArray

# A fish of no weight at all cannot be written down.
LIGHTEST = 1e-300


def measured_fish(truth: Truth, records: Campaign, rng: np.random.Generator) -> xr.Dataset:
    """Weigh and measure fish, in the ways that the records have places for.

    The condition factor is that of fish of the mean length of those with both, whatever it turns
    out to be. (That it is not fixed beforehand changes the density of lengths by one factor b/3.)

    Parameters
    ----------
    truth : Truth
        With the fish of all seasons.
    records : Campaign
        What the nets took, and which fish are weighed, measured or both, and when.
    """
    fish = records.fish
    if "mean_weight" not in truth.values:
        return fish
    season = fish["season_index"].values
    lake = records.seasons["lake_index"].values[season]
    has_weight, has_length = fish["weight"].notnull().values, fish["length"].notnull().values
    mean, v = truth.values["mean_weight"][season], truth.values["weight_variation"]
    if "net_selectivity" in truth.values:
        mean, v = mean * _of_weighings(truth, records, rng), v[lake]
    if "condition" not in truth.values:
        return fish.assign(weight=("fish", _gamma(mean, v, rng)))
    b, scatter = truth.values["length_exponent"], truth.values["length_scatter"]
    # ln z = ln K + 3 c − 8 ln 10 + ½ scatter² + b (ln L − c), with c the mean of ln L.
    rest = np.log(_gamma(mean, v, rng)) - np.log(truth.values["condition"])[lake]
    rest += 8.0 * np.log(10.0) - 0.5 * scatter**2
    centre = rest[has_weight & has_length].mean() / 3.0
    x = (rest - 3.0 * centre) / b
    log_condition = np.log(truth.values["condition"])[lake]
    at_length = log_condition + 3.0 * centre - 8.0 * np.log(10.0) + b * x
    weight = np.exp(at_length + scatter * rng.normal(size=len(x)))
    # Weights alone are gamma, with the scatter about the relation in their variation.
    alone = _gamma(mean, np.sqrt((1.0 + v**2) * np.exp(scatter**2) - 1.0), rng)
    weight = np.maximum(np.where(has_length, weight, alone), LIGHTEST)
    return fish.assign(
        length=("fish", np.where(has_length, np.exp(centre + x), np.nan)),
        weight=("fish", np.where(has_weight, weight, np.nan)),
    )


def _of_weighings(truth: Truth, records: Campaign, rng: np.random.Generator) -> FloatArray:
    """Draw the mean weight where each fish comes from, relative to that before netting."""
    values = truth.values
    s, trend = float(values["net_selectivity"][0]), float(values["weight_trend"][0])
    electric = float(values.get("electrofishing_selectivity", np.ones(1))[0])
    # 1/u is gamma of this shape: u has mean 1 and the catch's coefficient of variation.
    shape = 2.0 + float(values["weight_pull_spread"][0]) ** -2
    season_of_pull, net_of_pull, gone = (
        records.pulls[name].values for name in ("season_index", "net", "gone_before")
    )
    day_of_pull = records.pulls["date"].values.astype("datetime64[D]")
    first_day = records.seasons["first_day"].values.astype("datetime64[D]")
    caught = list(
        zip(
            records.fish["season_index"].values.tolist(),
            records.fish["date"].values.astype("datetime64[D]"),
            records.fish["net"].values.tolist(),
            strict=True,
        )
    )
    drawn: dict[tuple[int, np.datetime64, str], float] = {}
    for season, day, net in dict.fromkeys(caught):
        later = (season_of_pull == season) & (day_of_pull >= day)
        same_day = later & (day_of_pull == day)
        same_net = same_day & (net_of_pull == net)
        first = np.flatnonzero(same_net if same_net.any() else later)
        taken = gone[first[0]] if len(first) else records.seasons["gone"].values[season]
        before = truth.abundance[season]
        share = max(before - taken, 1.0) / max(before, 1.0)
        time = (day - first_day[season]) / np.timedelta64(30, "D")
        by_gear = s if same_day.any() else electric
        alike = (shape - 1.0) / rng.gamma(shape)
        drawn[season, day, net] = float(np.exp(trend * time) * share ** (s - 1.0) * by_gear * alike)
    return np.array([drawn[key] for key in caught])


def mean_weight_left(truth: Truth, records: Campaign, season: int) -> float:
    """Return the mean weight of the fish in a lake after the last pull of a season, kg."""
    weight = float(truth.values["mean_weight"][season])
    if "net_selectivity" not in truth.values:
        return weight
    first, last = (
        records.seasons[name].values[season].astype("datetime64[D]")
        for name in ("first_day", "last_day")
    )
    months = 0.0 if np.isnat(first) else (last - first) / np.timedelta64(30, "D")
    before = truth.abundance[season]
    left = before - records.seasons["gone"].values[season]
    share = max(left, 1.0) / max(before, 1.0)
    s, trend = float(truth.values["net_selectivity"][0]), float(truth.values["weight_trend"][0])
    return float(weight * np.exp(trend * months) * share ** (s - 1.0))


def _gamma(mean: FloatArray, variation: FloatArray, rng: np.random.Generator) -> FloatArray:
    shape = 1.0 / variation**2
    drawn: FloatArray = rng.gamma(shape, mean / shape)
    return np.maximum(drawn, LIGHTEST)
