"""What one more measurement is worth: how far it would narrow the biomass left, before it is made.

`models/README.md`, section "What a measurement is worth", has the mathematics.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
from scipy import special

from fishdown.decisions.rates import prior_of
from fishdown.equality import by_value
from fishdown.errors import PlanError
from fishdown.intervals import TAILS
from fishdown.models.parts.marks.shedding import still_marked
from fishdown.models.parts.surveys.runs import ODDS_NODES, normal_nodes
from fishdown.posterior.at_draws import rates_at_draws, thinned
from fishdown.statements.probability import says

if TYPE_CHECKING:
    from collections.abc import Callable

    import xarray as xr

    from fishdown.posterior.fitted import FittedCampaign
    from fishdown.typing import FloatArray

# Draws taken as true in turn, and draws that are weighed.
TRUTHS, WEIGHED = 200, 2_000
# Nine in ten of the tags that are there are heard (our judgement, no source).
HEARD = 0.9
# Surer than this a verdict is firm.
FIRM = 0.9
# Pulls that fish are weighed from.
PULLS_WEIGHED = 5
# Fewer effective draws than this do not support the ends of an interval (our judgement).
FEWEST_DRAWS = 50

COLUMNS = (
    "lake", "season", "measurement", "fish", "narrower", "narrower_mc_error", "ratio_now",
    "ratio_expected", "firm_now", "firm_expected", "firm_mc_error", "draws", "gate",
    "fit",
)  # fmt: skip


@dataclass(frozen=True)
class Measurement:
    """What may be measured next, and how many fish or tags it takes.

    Attributes
    ----------
    name : str
        "pen", "antenna", "second_gear" or "weights".
    fish : int
        Marked fish in the pen, tags listened for, fish looked at, or fish weighed.
    """

    name: str
    fish: int


@by_value
@dataclass(frozen=True)
class _Lake:
    """Draws of what measurements depend on, shape (draw,) each, and of the biomass left."""

    left: FloatArray
    alive: FloatArray
    retained: FloatArray
    tag_there: FloatArray
    marked_odds: FloatArray
    weight: FloatArray
    clumping: FloatArray
    weight_variation: FloatArray
    pull_spread: FloatArray
    gear_odds: tuple[float, ...]
    threshold: float


def worth(
    fit: FittedCampaign,
    *,
    pen: int = 50,
    antenna: int = 0,
    second_gear: int = 300,
    weights: int = 60,
    seed: int = 1,
    despite_gate: bool = False,
) -> pd.DataFrame:
    """Predict how far each next measurement would narrow the biomass left of every lake.

    Parameters
    ----------
    fit : FittedCampaign
        With effective marks and biomass.
    pen : int
        Marked fish kept in a pen.
    antenna : int
        Tags listened for; 0 for all that were released in the lake's last season.
    second_gear : int
        Fish that a run of another gear than nets and marking looks at.
    weights : int
        Fish weighed.
    seed : int
    despite_gate : bool
        Predict also for lakes whose verdict is withheld.

    Returns
    -------
    pandas.DataFrame
        Columns `COLUMNS`, one row for each measurement of each lake, the one that narrows most
        first, and one for all together: by which share the logarithm of the ratio of the ends of
        the 90 % interval is expected to fall, the median ratio now and then, the chance that the
        verdict is firm (90 % either way), Monte-Carlo standard errors, and the least effective
        number of draws behind nine in ten of the predictions. Of a lake that is withheld, or of
        which a measurement tells nothing, the numbers are missing. ``fit`` is the fingerprint of
        the fit.

    Raises
    ------
    PlanError
        If the model has no effective marks or no biomass, or a number is below 0.
    """
    asked = {"pen": pen, "antenna": antenna, "second_gear": second_gear, "weights": weights}
    wrong = [f"{name} {number}: write 0 or more" for name, number in asked.items() if number < 0]
    if wrong:
        raise PlanError("; ".join(wrong))
    if "effective_marks" not in fit.quantities or "biomass_after" not in fit.quantities:
        raise PlanError(
            "worth needs a fit with effective marks and biomass: a model with "
            'marks = "effective", marked fish and weights'
        )
    rng = np.random.default_rng(seed)
    rows: list[dict[str, Any]] = []
    for season in fit.campaign.last_seasons.values():
        gate = fit.failure(season)
        place = {**fit.campaign.place(season), "gate": gate or "passed", "fit": fit.fingerprint}
        if (gate and not despite_gate) or not says(fit, "biomass_after", season):
            rows.append(place)
            continue
        drawn = _at_draws(fit, season)
        possible = _possible(fit, season, asked)
        found = [(_worth(drawn, (one,), rng), one) for one in possible]
        found.sort(key=lambda pair: -pair[0]["narrower"])
        rows += [
            {**place, "measurement": one.name, "fish": one.fish, **numbers}
            for numbers, one in found
        ]
        if len(possible) > 1:
            rows.append({**place, "measurement": "all", **_worth(drawn, tuple(possible), rng)})
    return pd.DataFrame(rows, columns=list(COLUMNS))


def _possible(fit: FittedCampaign, season: int, asked: dict[str, int]) -> list[Measurement]:
    """Return what can be measured in a lake: no antenna without tags, no marks without marks."""
    batches = fit.campaign.batches
    mine = batches["season_index"].values == season
    tagged = mine & (batches["mark"].values != "fin_clip")
    tags = int(batches["released_alive"].values[tagged].sum())
    numbers = dict(asked)
    numbers["antenna"] = min(asked["antenna"] or tags, tags)
    if not fit.campaign.seasons["marks_left"].values[season] > 0:
        numbers |= {"pen": 0, "second_gear": 0}
    return [Measurement(name, number) for name, number in numbers.items() if number > 0]


def _at_draws(fit: FittedCampaign, season: int) -> _Lake:
    posterior = thinned(fit.tree["posterior"].to_dataset(), WEIGHED)
    quantities = thinned(fit.quantities, WEIGHED).isel(season=season)
    clip, tag, alive = (
        posterior[name].values
        for name in ("clip_retention", "tag_retention", "post_release_survival")
    )
    kinds = fit.data.counts.kinds_at_large[season]
    retained = still_marked(kinds[None, :, None], clip, tag)[0]
    stays = np.ravel(rates_at_draws(posterior).staying(fit.data.times.marked_years[season]))
    there = alive * stays
    seasons = fit.campaign.seasons.isel(season=season)
    marks = np.full(len(alive), float(seasons["marks_left"]))
    if "carried_marks" in posterior:
        marks += posterior["carried_marks"].values[:, season] - float(seasons["carried_most"])
    fish = quantities["abundance_after"].values
    marks = np.clip(marks, 1e-9, np.maximum(fish - 1.0, 1e-9))
    return _Lake(
        left=np.maximum(quantities["biomass_after"].values, 1e-9),
        alive=alive,
        retained=retained,
        tag_there=tag * there,
        marked_odds=marks / np.maximum(fish - marks, 1.0) * retained * there,
        weight=quantities["mean_weight"].values,
        clumping=_value(posterior, "clumping", season, fit),
        weight_variation=_value(posterior, "weight_variation", season, fit),
        pull_spread=_value(posterior, "weight_pull_spread", season, fit),
        gear_odds=prior_of(fit, "second_gear_odds").numbers,
        threshold=float(fit.campaign.lake_of(season)["threshold"]),
    )


def _value(posterior: xr.Dataset, name: str, season: int, fit: FittedCampaign) -> FloatArray:
    """Return draws of a parameter, for the lake of a season where each has its own; 0 if absent."""
    if name not in posterior:
        return np.zeros(posterior.sizes["sample"])
    values = posterior[name]
    if "lake" in values.dims:
        values = values.isel(lake=int(fit.campaign.seasons["lake_index"].values[season]))
    found: FloatArray = values.values
    return found


def _worth(
    lake: _Lake, measured: tuple[Measurement, ...], rng: np.random.Generator
) -> dict[str, float]:
    draws = len(lake.left)
    truths = np.linspace(0, draws - 1, min(TRUTHS, draws)).round().astype(int)
    log_weight = np.zeros((len(truths), draws))
    for one in measured:
        log_weight += _FINDS[one.name](lake, one.fish, truths, rng)
    weight = np.exp(log_weight - log_weight.max(axis=1, keepdims=True))
    weight /= weight.sum(axis=1, keepdims=True)
    order = np.argsort(lake.left)
    left, cumulated = np.log(lake.left[order]), np.cumsum(weight[:, order], axis=1)
    ends = np.array([[np.interp(tail, row, left) for tail in TAILS] for row in cumulated])
    now = float(np.subtract(*np.quantile(np.log(lake.left), TAILS[::-1])))
    then = ends[:, 1] - ends[:, 0]
    below = (weight * (lake.left < lake.threshold)).sum(axis=1)
    firm = (np.maximum(below, 1.0 - below) >= FIRM).astype(float)
    now_below = float((lake.left < lake.threshold).mean())
    error = np.sqrt(len(truths))
    chance = (firm.sum() + 0.5) / (len(firm) + 1.0)
    return {
        "narrower": 1.0 - float(then.mean()) / now,
        "narrower_mc_error": float(then.std(ddof=1)) / error / now,
        "ratio_now": float(np.exp(now)),
        "ratio_expected": float(np.exp(then.mean())),
        "firm_now": float(max(now_below, 1.0 - now_below) >= FIRM),
        "firm_expected": float(chance),
        "firm_mc_error": float(np.sqrt(chance * (1.0 - chance)) / error),
        "draws": float(np.quantile(1.0 / (weight**2).sum(axis=1), 0.1)),
    }


def _binomial(seen: Any, of: Any, chance: FloatArray) -> FloatArray:
    """Return the log-density of what was seen (truth, 1) at all draws, without coefficients."""
    chance = np.clip(chance, 1e-9, 1.0 - 1e-9)
    found: FloatArray = seen * np.log(chance) + (of - seen) * np.log1p(-chance)
    return found


def _in_pen(lake: _Lake, fish: int, truths: Any, rng: np.random.Generator) -> FloatArray:
    alive = rng.binomial(fish, lake.alive[truths])[:, None]
    marked = rng.binomial(alive[:, 0], lake.retained[truths])[:, None]
    return _binomial(alive, fish, lake.alive) + _binomial(marked, alive, lake.retained)


def _heard(lake: _Lake, tags: int, truths: Any, rng: np.random.Generator) -> FloatArray:
    chance = HEARD * lake.tag_there
    return _binomial(rng.binomial(tags, chance[truths])[:, None], tags, chance)


def _by_second_gear(lake: _Lake, fish: int, truths: Any, rng: np.random.Generator) -> FloatArray:
    nodes, log_weight = normal_nodes(ODDS_NODES)
    median, log_sd = lake.gear_odds
    spread, middle = np.hypot(log_sd, lake.clumping), np.log(median * lake.marked_odds)
    own = middle[truths] + spread[truths] * rng.standard_normal(len(truths))
    seen = rng.binomial(fish, special.expit(own))[:, None]
    logit = middle + spread * nodes[:, None]
    found = np.full((len(truths), len(lake.left)), -np.inf)
    for node, weight in zip(logit, log_weight, strict=True):
        log_chance = seen * special.log_expit(node) + (fish - seen) * special.log_expit(-node)
        found = np.logaddexp(found, weight + log_chance)
    return found


def _weighed(lake: _Lake, fish: int, truths: Any, rng: np.random.Generator) -> FloatArray:
    sd = np.sqrt(lake.weight_variation**2 / fish + lake.pull_spread**2 / PULLS_WEIGHED)
    middle = np.log(lake.weight)
    seen = (middle[truths] + sd[truths] * rng.standard_normal(len(truths)))[:, None]
    found: FloatArray = -np.log(sd) - 0.5 * ((seen - middle) / sd) ** 2
    return found


_FINDS: dict[str, Callable[[_Lake, int, Any, np.random.Generator], FloatArray]] = {
    "pen": _in_pen,
    "antenna": _heard,
    "second_gear": _by_second_gear,
    "weights": _weighed,
}
