"""New pulls in mid-season: reweight the draws of a fit, if that is reliable."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
import xarray as xr

from fishdown.errors import ModelFileError
from fishdown.models.data import fitting_spec, model_data
from fishdown.models.inputs import same_over_pulls
from fishdown.models.parts.temperature import TEMPERATURE
from fishdown.models.spec import parse_model
from fishdown.posterior.at_draws import rates_at_draws
from fishdown.posterior.other_pulls import with_steps_of
from fishdown.posterior.pointwise import pull_log_densities
from fishdown.posterior.prior_share import shares_of_abundance
from fishdown.posterior.pull_hazard import stacked
from fishdown.posterior.quantities import reported_quantities
from fishdown.posterior.sampling import SamplerSettings
from fishdown.posterior.standard_groups import standard_groups

if TYPE_CHECKING:
    from fishdown.campaign import Campaign
    from fishdown.models.data import ModelData
    from fishdown.models.spec import ModelSpec
    from fishdown.posterior.fitted import FittedCampaign
    from fishdown.typing import BoolArray, FloatArray, Numbers

# Parts for which the likelihood of a new pull is that of `pull_log_densities` alone.
_PLAIN = {
    "marks": ("all_count", "effective"),
    "deaths": ("recorded",),
    "batches": ("together",),
    "recaptures": ("random", "uneven", "clumped"),
    "years": ("apart",),
}
# Tables that must be unchanged, and their names for users.
_SAME_TABLES = {
    "lakes": "the lakes",
    "fish": "the measured fish",
    "surveys": "the runs of another gear",
    "antenna": "the nights on which antennas heard tags",
}
# Fewer draws above the new bound than this do not support a tail estimate (our judgement).
FEWEST_DRAWS = 100


def taken_up[Fitted: FittedCampaign](
    fitted: Fitted, campaign: Campaign
) -> tuple[Fitted | None, dict[str, Any]]:
    """Add new pulls to a fit by reweighting its draws, where that is reliable.

    Parameters
    ----------
    campaign : Campaign
        The same records with more pulls in the seasons that were fitted.

    Returns
    -------
    fit : FittedCampaign or None
        None where the model must be fitted again.
    entry : dict
        What ``run["update"]`` of the fit says, see `fishdown.update`; why it must be fitted again
        is its ``why``.
    """
    records = campaign.netted if fitted.spec.part("years") == "apart" else campaign
    entry: dict[str, Any] = {"pareto_k": None, "limit": None, "reweighted": False}
    why = _obstacle(fitted, records, asked_model(fitted))
    if not why:
        new = ~_seen_before(fitted.campaign, records)
        entry["new_pulls"] = int(new.sum())
        if not new.any():
            entry |= {"reweighted": fitted.reweighted, "how": "unchanged", "why": ""}
            return _noted(fitted.holding({}, records), entry), entry
        ready = _for_pulls_of(records, fitted)
        weights, pareto_k, limit = new_weights(ready, records, new)
        entry |= {"pareto_k": pareto_k, "limit": limit}
        if not weights.any():
            why = "the new pulls took more fish than nearly all draws of abundance allow"
        elif not pareto_k <= limit:
            why = (
                "the new data are unlikely under the current fit: Pareto k "
                f"{pareto_k:.2f}, above {limit:.2f}"
            )
        else:
            found = _resampled(ready, records, weights)
            if found.quality.passed:
                sizes = [_draws(fitted), _draws(found)]
                entry |= {"how": "reweighted", "why": "", "draws": sizes, "reweighted": True}
                return _noted(found, entry), entry
            why = "too few effective draws are left for the quality gate"
    return None, {**entry, "how": "refitted", "why": why}


def _for_pulls_of[Fitted: FittedCampaign](campaign: Campaign, fitted: Fitted) -> Fitted:
    """Return a fit whose draws have steps for the new pulls too, of their nights for example."""
    pulls = model_data(campaign, fitted.spec).pulls
    # Another seed at every update, or the steps of one night would be those of the next.
    rng = np.random.default_rng((int(fitted.run.get("seed", 0)), len(pulls)))
    posterior = fitted.tree["posterior"].to_dataset()
    more = with_steps_of(posterior, fitted.spec, fitted.data.pulls, pulls, rng)
    return fitted.holding({"posterior": more})


def _noted[Fitted: FittedCampaign](found: Fitted, entry: dict[str, Any]) -> Fitted:
    """Write into a fit's record which records it has now, and how it came by them."""
    run = {**found.run, "input_sha256": dict(found.campaign.hashes or {}), "update": entry}
    run["quality_gate"] = found.quality.entry()
    return replace(found, run=run)


def _draws(fitted: FittedCampaign) -> int:
    sizes = fitted.tree["posterior"].dataset.sizes
    return int(sizes["chain"] * sizes["draw"])


def asked_model(fitted: FittedCampaign) -> ModelSpec:
    """Return the model as it was asked for, with the parts that the records could not feed then."""
    try:
        whole = parse_model(fitted.spec.text, fitted.spec.name)
    except ModelFileError:
        return fitted.spec
    # Unless it was changed after it was read.
    return whole if fitting_spec(fitted.campaign, whole)[0] == fitted.spec else fitted.spec


def sampled_with(fitted: FittedCampaign) -> SamplerSettings:
    """Return the settings of the first attempt at a fit, with which it is fitted again."""
    attempts = fitted.run.get("attempts")
    return SamplerSettings.of(attempts[0]) if attempts else SamplerSettings()


def new_weights(
    fitted: FittedCampaign, campaign: Campaign, new: BoolArray
) -> tuple[FloatArray, float, float]:
    """Weigh the draws of a fit by what new pulls say.

    Parameters
    ----------
    campaign : Campaign
        With the new pulls.
    new : ndarray of bool, shape (pull,)
        Which of its pulls are new.

    Returns
    -------
    weights : ndarray, shape (chain, draw)
        They sum to 1; all 0 where hardly any draw is above the new bound of abundance.
    pareto_k, limit : float
        The tail of the weights, and the largest that can be trusted (Vehtari et al. 2024).
    """
    from arviz_stats.base import array_stats

    posterior = fitted.tree["posterior"].dataset
    shape = posterior.sizes["chain"], posterior.sizes["draw"]
    possible = (
        (stacked(posterior["abundance"]) > _bound(posterior, campaign, fitted.spec) - 0.5)
        .all(axis=1)
        .reshape(shape)
    )
    with np.errstate(invalid="ignore"):
        pulls = pull_log_densities(posterior, campaign, fitted.spec)
    told = (pulls["catch"] + pulls["recaptures"]).values[:, :, new].sum(axis=2)
    weights = np.zeros(shape)
    left = int(possible.sum())
    if left < FEWEST_DRAWS:
        return weights, float("inf"), 0.0
    limit = min(1.0 - 1.0 / float(np.log10(left)), 0.7)
    log_weights = told[possible]
    if np.ptp(log_weights) < 1e-9:
        # New pulls that say nothing have no tail to smooth.
        weights[possible] = 1.0 / left
        return weights, 0.0, limit
    # The library takes log-likelihoods to leave out; these are to be put in.
    smoothed, pareto_k = array_stats.psislw(-log_weights, axis=-1)
    weights[possible] = np.exp(smoothed)
    return weights / weights.sum(), float(pareto_k), limit


def systematic(weights: FloatArray, size: int) -> np.ndarray[Any, np.dtype[np.int64]]:
    """Choose draws in proportion to their weights, evenly and in order.

    Parameters
    ----------
    weights : ndarray, shape (draw,)
    size : int
        How many to choose; each draw comes within one of ``size`` times its share.

    Returns
    -------
    ndarray of int, shape (size,)
    """
    steps = np.cumsum(weights) / weights.sum()
    places = np.searchsorted(steps, (np.arange(size) + 0.5) / size)
    return np.minimum(places, len(weights) - 1)


def _resampled[Fitted: FittedCampaign](
    fitted: Fitted, campaign: Campaign, weights: FloatArray
) -> Fitted:
    """Make the fit of the new records, with no more draws than the weights are worth."""
    # A chain without any weight is worth nothing; convergence needs at least four draws to judge.
    squares = np.maximum((weights**2).sum(axis=1), np.finfo(float).tiny)
    size = max(4, int((weights.sum(axis=1) ** 2 / squares).min()))
    chosen = np.array([systematic(np.maximum(chain, 1e-12), size) for chain in weights])
    picked = {
        name: _picked(fitted.tree[name].to_dataset(), chosen)
        for name in ("posterior", "sample_stats")
    }
    picked["quantities"] = reported_quantities(picked["posterior"], campaign, fitted.spec)
    picked["told"] = shares_of_abundance(picked["posterior"], campaign, fitted.spec)
    picked |= standard_groups(
        picked["posterior"], campaign, fitted.spec, seed=int(fitted.run.get("seed", 0))
    )
    return fitted.holding(picked, campaign)


def _picked(draws: xr.Dataset, chosen: np.ndarray[Any, np.dtype[np.int64]]) -> xr.Dataset:
    place = xr.DataArray(chosen, dims=("chain", "draw"))
    chain = xr.DataArray(np.arange(len(chosen)), dims="chain")
    plain = draws.drop_vars(["chain", "draw"], errors="ignore")
    return plain.isel(chain=chain, draw=place).transpose("chain", "draw", ...)


def _bound(posterior: xr.Dataset, campaign: Campaign, spec: ModelSpec) -> FloatArray:
    """Return the fewest fish before each season's first pull, shape (draw or 1, season)."""
    data = model_data(campaign, spec)
    counts = data.counts
    marked = np.bincount(
        counts.group_season, weights=counts.marks_at_start, minlength=len(counts.bound)
    )
    needed = rates_at_draws(posterior).needed(data.times.gone, data.times.end)
    return np.atleast_2d(counts.bound + marked + needed)


def _obstacle(fitted: FittedCampaign, campaign: Campaign, asked: ModelSpec) -> str:
    """Return why reweighting would not do; empty when it will."""
    old, spec = fitted.campaign, fitted.spec
    if not fitted.quality.passed:
        return "the earlier fit did not pass the quality gate"
    for part, choices in _PLAIN.items():
        if spec.part(part) not in choices and not (
            part != "years" and spec.part("evidence") == "depletion"
        ):
            return f"the model has {part} = {spec.part(part)}"
    if any(
        campaign.seasons[name].values.tolist() != old.seasons[name].values.tolist()
        for name in ("lake", "label")
    ):
        return "there are other seasons than before"
    for table, words in _SAME_TABLES.items():
        if not getattr(old, table).equals(getattr(campaign, table)):
            return f"{words} changed"
    if not np.array_equal(old.seasons["marked"].values, campaign.seasons["marked"].values):
        return "fish were marked since"
    if dict(fitting_spec(campaign, asked)[0].parts) != dict(spec.parts):
        return "the records feed other parts of the model"
    seen = _seen_before(old, campaign)
    # Whether their bycatch counts as counted says nothing of the fish, and may follow later.
    earlier, still = (
        one.drop_vars("bycatch_counted", errors="ignore")
        for one in (old.pulls, campaign.pulls.isel(pull=np.flatnonzero(seen)))
    )
    if int(seen.sum()) != old.pulls.sizes["pull"] or not earlier.equals(still):
        return "earlier pulls changed"
    speaks = ~campaign.pulls["spoiled"].values
    before, now = model_data(old, spec), model_data(campaign, spec)
    if not _same_guesses(before, now, seen[speaks]):
        return "a new pull has no water temperature, or changes the guess of an earlier one"
    if before.second_looks != now.second_looks:
        return "the fish looked at twice changed"
    if before.counts.pens != now.counts.pens:
        return "the fish in pens changed"
    if before.weights != now.weights:
        return "a new pull changes which catch, or which share left, the measured fish belong to"
    if spec.part("nets") == "differ" and before.pulls.nets != now.pulls.nets:
        return "there are new nets"
    if spec.part("evidence") == "marks":
        return ""
    changed = [
        name
        for name, inputs in {"catches": before.catches, **before.effects}.items()
        if not same_over_pulls(inputs, now.effects.get(name, now.catches), seen[speaks])
    ]
    if changed:
        return f"the {changed[0].replace('_', ' ')} of earlier pulls changed"
    return ""


def _same_guesses(before: ModelData[Numbers], now: ModelData[Numbers], seen: BoolArray) -> bool:
    if TEMPERATURE.name not in before.effects:
        return True
    old, new = before.effects[TEMPERATURE.name], now.effects[TEMPERATURE.name]
    return old.guesses == new.guesses and same_over_pulls(old, new, seen)


def _seen_before(old: Campaign, new: Campaign) -> BoolArray:
    """Tell which pulls stood in the earlier records: the first ones of each season."""
    counts = np.bincount(old.pulls["season_index"].values, minlength=new.seasons.sizes["season"])
    index = pd.Series(new.pulls["season_index"].values)
    seen: BoolArray = index.groupby(index).cumcount().to_numpy() < counts[index]
    return seen
