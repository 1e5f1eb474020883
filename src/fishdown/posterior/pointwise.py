"""The log-density of every pull given all that came before it, draw by draw, in plain numbers.

The graph adds up the counting terms of a season's pulls, in which factorials cancel.
Cross-validation and power-scaling need them one by one: ln p(C_i, R_i | N₀, θ, pulls before i), the
catch (beta-binomial or binomial) and the marked fish in it (hypergeometric, of several batches
multivariate, or one of its extensions, see `fishdown.models.parts.recaptures`). Their sum over all
pulls is the graph's.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import xarray as xr
from scipy.special import gammaln

from fishdown.models.parts.catch import catch_log_density
from fishdown.models.parts.marks.release_groups import (
    examined_pulls,
    gone_since_release,
    groups_of_seasons,
)
from fishdown.models.parts.open_lake.present import shortfall_log_density, ways_correction
from fishdown.models.parts.open_lake.times import of_pulls
from fishdown.models.parts.recaptures import hypergeometric
from fishdown.posterior.at_draws import drawn_lakes

if TYPE_CHECKING:
    from fishdown.campaign import Campaign
    from fishdown.models.parts.marks.release_groups import ReleaseGroups
    from fishdown.models.spec import ModelSpec
    from fishdown.posterior.at_draws import DrawnLakes
    from fishdown.typing import BoolArray, FloatArray


def pull_log_densities(posterior: xr.Dataset, campaign: Campaign, spec: ModelSpec) -> xr.Dataset:
    """Split the log-likelihood of catches and recaptures into that of single pulls.

    Parameters
    ----------
    posterior : xarray.Dataset
        Draws of the model's variables, dimensions (chain, draw, …): group ``posterior`` of a fit.
    campaign : Campaign
        That was fitted, or the same with more pulls.

    Returns
    -------
    xarray.Dataset
        ``catch`` and ``recaptures``, dimensions (chain, draw, pull), all pulls of the campaign in
        its order, natural logarithms. 0 where one of the two is not informative: the catch of a
        void lift, the marks where the catch was not examined.
    """
    lakes = drawn_lakes(posterior, campaign, spec)
    index = campaign.pulls["season_index"].values
    fish, gone = lakes.vulnerable_fish[:, index], campaign.pulls["gone_before"].values
    spell = of_pulls(campaign)
    present = lakes.open_lake.present(fish, gone, spell)
    # Marked fish die as unmarked ones do: they are told from fish as if none had died.
    counted = fish * (1.0 + lakes.open_lake.arrived(spell.open_years)) - gone
    found = {
        "catch": _catches(campaign, spec, lakes, present, fish - gone),
        "recaptures": _recaptures(campaign, spec, lakes, counted),
    }
    size = posterior.sizes["chain"], posterior.sizes["draw"]
    attributes = {"units": "1", "long_name": "log-density given all pulls before"}
    return xr.Dataset(
        {
            name: (("chain", "draw", "pull"), values.reshape(*size, -1), attributes)
            for name, values in found.items()
        }
    )


def informative_pulls(campaign: Campaign, spec: ModelSpec) -> BoolArray:
    """Return which pulls are informative in a model, shape (pull,)."""
    return _catch_speaks(campaign, spec) | _marks_speak(campaign, spec)


def _catch_speaks(campaign: Campaign, spec: ModelSpec) -> BoolArray:
    spoiled: BoolArray = campaign.pulls["spoiled"].values
    return ~spoiled if spec.part("evidence") != "marks" else np.zeros_like(spoiled)


def _marks_speak(campaign: Campaign, spec: ModelSpec) -> BoolArray:
    # Where no mark is at large there is none to see or to miss.
    pulls = campaign.pulls
    examined: BoolArray = ~np.isnan(pulls["recaptured"].values)
    examined &= (pulls["marks_at_large"].values > 0) | (pulls["recaptured"].values > 0)
    return examined if spec.part("evidence") != "depletion" else np.zeros_like(examined)


def _catches(
    campaign: Campaign, spec: ModelSpec, lakes: DrawnLakes, before: FloatArray, closed: FloatArray
) -> FloatArray:
    found = np.zeros_like(before)
    speaks = _catch_speaks(campaign, spec)
    if not speaks.any():
        return found
    caught, fish = lakes.data.catches.caught, before[:, speaks]
    # As in the graph: in the half fish below the bound a pull would take more than there is.
    enough = np.maximum(fish, caught)
    density = catch_log_density(caught, enough, lakes.hazard, lakes.schooling)
    density = density + _log_choose(closed[:, speaks], caught)
    if not lakes.open_lake.closed:
        closed_enough = np.maximum(closed[:, speaks], caught)
        density = density + ways_correction(caught, enough, closed_enough)
        density = density + shortfall_log_density(caught, fish)
    found[:, speaks] = density
    return found


def _recaptures(
    campaign: Campaign, spec: ModelSpec, lakes: DrawnLakes, before: FloatArray
) -> FloatArray:
    found = np.zeros_like(before)
    speaks, examined = _marks_speak(campaign, spec), examined_pulls(campaign)
    index = campaign.pulls["season_index"].values
    looked_at = campaign.pulls["examined"].values
    first = 0
    for season, groups in enumerate(groups_of_seasons(campaign, spec.parts)):
        own = speaks[index == season]
        mine = np.flatnonzero(speaks & (index == season))
        places = slice(first, first + len(groups.left))
        first = places.stop
        if not len(mine):
            continue
        marked = _marked(lakes, season, places, groups)[:, :, own]
        seen = groups.recaptured[:, own]
        fish, total, C = before[:, mine], marked.sum(axis=1), looked_at[mine]
        if hypergeometric(spec.parts):
            # After catches not examined for marks, marks at large are an estimate, and may be a
            # fraction of a fish below what is seen later.
            found[:, mine] = (
                _log_choose_of_few(marked, seen).sum(axis=1)
                + _log_choose(fish - total, C - seen.sum(axis=0))
                - _log_choose(fish, C)
            )
            continue
        if len(groups.left) > 1:
            # Which batch each marked fish belongs to, given how many of them were caught.
            by_batch = _log_choose_of_few(marked, seen).sum(axis=1)
            found[:, mine] = by_batch - _log_choose_of_few(total, seen.sum(axis=0))
        tells = examined[mine]
        pulls = campaign.season_pulls(season)
        since = gone_since_release(campaign, season, groups), pulls["gone_before"].values
        found[:, mine[tells]] += _not_at_random(
            lakes, season, seen.sum(axis=0)[tells], C[tells], total[:, tells], fish[:, tells],
            *(gone[own][tells] for gone in since),
        )  # fmt: skip
    return found


def _marked(lakes: DrawnLakes, season: int, places: slice, groups: ReleaseGroups) -> FloatArray:
    """Return the marks of each release group of a season that count, shape (draw, group, pull)."""
    # Of all marks released the share counts; those seen again are known. Of earlier years' marks
    # the draws say how many have lasted.
    share = lakes.share[:, places, None]
    marked: FloatArray = share * groups.released_before - groups.removed_before
    return marked + lakes.carried[:, [season], None]


def _not_at_random(
    lakes: DrawnLakes,
    season: int,
    seen: FloatArray,
    caught: FloatArray,
    marked: FloatArray,
    fish: FloatArray,
    gone_since: FloatArray,
    gone_before: FloatArray,
) -> FloatArray:
    """Return the log-density of the marked fish in each catch by the model's own recursion."""
    from fishdown.models.parts.recaptures.node import at_numbers

    departure = {}
    visible, odds = lakes.of_marks(season, gone_since, caught, gone_before)
    if odds is not None:
        departure["odds"] = odds
    if lakes.clumping is not None:
        departure["clumping"] = lakes.clumping[:, None]
    unmarked = fish - visible * marked
    if lakes.there is not None:
        unmarked = np.maximum(unmarked, caught - seen)
    return at_numbers(seen, caught, marked, unmarked, **departure)


def _log_choose(from_: FloatArray, taken: FloatArray) -> FloatArray:
    chosen: FloatArray = gammaln(from_ + 1.0) - gammaln(from_ - taken + 1.0) - gammaln(taken + 1.0)
    return chosen


def _log_choose_of_few(from_: FloatArray, taken: FloatArray) -> FloatArray:
    """Return ln C(from, taken), where fewer than were taken count as just as many."""
    left = np.maximum(from_ - taken, 0.0)
    chosen: FloatArray = (
        gammaln(np.maximum(from_, 0.0) + 1.0) - gammaln(left + 1.0) - gammaln(taken + 1.0)
    )
    return chosen
