"""Abundance from mark–recapture only, by quadrature: no sampling is needed.

Where every mark counts, seasons are independent and abundance is the only unknown. Where marks
count with a probability (mark loss, fish not vulnerable to the gear) that probability is common to
all seasons, and each season's realised share of marks is a second unknown; both are summed over.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import gammaln

from fishdown.checks.effective_marks_alone import by_quadrature, log_likelihoods
from fishdown.equality import by_value
from fishdown.models.coordinates import share_ends
from fishdown.models.parts.counting.counts import counting_terms, marks_inform
from fishdown.models.parts.counting.season import CountingModel
from fishdown.models.parts.counting.terms import counting_log_density
from fishdown.models.parts.marks import marks_known
from fishdown.models.parts.marks.thinning import share_log_density

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    import xarray as xr

    from fishdown.campaign import Campaign
    from fishdown.models.parts.counting.season import CountingTerms
    from fishdown.models.priors import Prior
    from fishdown.models.spec import ModelSpec
    from fishdown.typing import FloatArray

POINTS = 4_000
# Points of fish numbers where shares of marks are summed over too, and nodes of equal prior
# probability for the chance of a mark to count, one parameter or two.
COARSE_POINTS = 2_000
NODES = {1: 200, 2: 30}
# And where every number of fish costs a sum over the marked fish of each catch.
EFFECTIVE_POINTS = 300
# Points of the share: two or more in a standard deviation of the binomial number behind it.
SHARES = (60, 600)
SHARES_PER_ROOT_MARK = 8.0
# The grid ends where the prior has this much left; the marks have long decided by then.
PRIOR_TAIL = 1e-6


@by_value
@dataclass(frozen=True)
class MarksAlone:
    """Posterior of abundance given the recaptures only.

    Attributes
    ----------
    abundance : ndarray, shape (point,)
        Fish before the first pull, rising.
    cumulative : ndarray, shape (point,)
        Posterior probability of at most that many.
    """

    abundance: FloatArray
    cumulative: FloatArray

    @classmethod
    def from_draws(cls, draws: FloatArray) -> MarksAlone:
        """Take draws of abundance, of any shape, in place of a quadrature."""
        ranks = (np.arange(draws.size) + 0.5) / draws.size
        return cls(np.sort(draws, axis=None), ranks)

    def quantile(self, probability: FloatArray) -> FloatArray:
        """Return the abundances below which each probability lies."""
        return np.interp(probability, self.cumulative, self.abundance)

    def at_most(self, abundance: FloatArray) -> FloatArray:
        """Return the posterior probability of at most these abundances."""
        return np.interp(abundance, self.abundance, self.cumulative, left=0.0, right=1.0)


def marks_of_seasons(
    campaign: Campaign, spec: ModelSpec, draws: xr.DataArray | None = None
) -> dict[int, MarksAlone]:
    """Return the posterior of each season with recapture data, by its position.

    Parameters
    ----------
    spec : ModelSpec
        Of the joint fit: its priors, and whether every mark counts.
    draws : xarray.DataArray, optional
        Draws of abundance from a fit to the marks only, dimensions (chain, draw, season), for
        models that the quadrature does not cover.
    """
    speaking = [
        season
        for season in range(campaign.seasons.sizes["season"])
        if marks_inform(campaign, season)
    ]
    if draws is not None:
        return {s: MarksAlone.from_draws(draws.isel(season=s).values) for s in speaking}
    count_all = marks_known(spec.parts)
    model = CountingModel(
        "marks", all_marks_count=count_all, marks_may_be_gone=spec.part("marks") == "effective"
    )
    terms_of = {season: counting_terms(campaign, season, model) for season in speaking}
    area = campaign.lakes["area"].values[campaign.seasons["lake_index"].values]
    density = spec.priors["density"]
    if by_quadrature(spec):
        log_likelihood = log_likelihoods(campaign, spec)
        return {
            s: _on_grid(
                terms_of[s], density, float(area[s]), EFFECTIVE_POINTS, partial(log_likelihood, s)
            )
            for s in speaking
        }
    if count_all:
        return {s: marks_alone(terms_of[s], density, float(area[s])) for s in speaking}
    return marks_by_chance(terms_of, spec, area)


def marks_alone(terms: CountingTerms, density: Prior, area: float) -> MarksAlone:
    """Integrate prior times hypergeometric likelihood over abundance; every mark counts.

    Parameters
    ----------
    terms : CountingTerms
        Of the season, with ``evidence="marks"``.
    density : Prior
        Of fish per hectare.
    area : float
        ha.
    """
    marks = float(terms.marks_at_start.sum())

    def log_likelihood(abundance: FloatArray) -> FloatArray:
        # All marks count here, so that each term holds the unmarked fish and nothing else.
        terms_of = counting_log_density(abundance[:, None] - marks, terms.offsets, terms.weights)
        total: FloatArray = terms_of.sum(axis=1)
        return total

    return _on_grid(terms, density, area, POINTS, log_likelihood)


def _on_grid(
    terms: CountingTerms,
    density: Prior,
    area: float,
    points: int,
    log_likelihood: Callable[[FloatArray], FloatArray],
) -> MarksAlone:
    marks = float(terms.marks_at_start.sum())
    step, abundance = _grid(terms.bound + marks - 0.5, density, area, points)
    # Even steps in the logarithm of the room: the room is their Jacobian.
    log_density = log_likelihood(abundance) + density.log_density(abundance / area) + step
    weight = np.exp(log_density - log_density.max())
    cumulative = np.cumsum(weight)
    return MarksAlone(abundance, cumulative / cumulative[-1])


def marks_by_chance(
    terms_of: Mapping[int, CountingTerms], spec: ModelSpec, area: FloatArray
) -> dict[int, MarksAlone]:
    """Integrate over abundance, each season's share of marks, and the chance common to all.

    Abundance counts all fish, including those not vulnerable to the gear: V/ρ, V vulnerable fish.

    Parameters
    ----------
    terms_of : mapping of int to CountingTerms
        By season, with ``evidence="marks"`` and without taking all marks to count.
    area : ndarray, shape (season,)
        ha.
    """
    vulnerable, kept = _nodes(spec)
    density = spec.priors["density"]
    within, mass = {}, {}
    log_weight = np.zeros(len(vulnerable))
    for season, terms in terms_of.items():
        within[season], mass[season] = _joint(terms, density, area[season], vulnerable, kept)
        total = mass[season].sum(axis=1)
        log_weight += np.log(total)
        mass[season] /= total[:, None]
    weight = np.exp(log_weight - log_weight.max())
    weight /= weight.sum()
    return {
        season: _mixture(within[season], mass[season], weight, vulnerable) for season in terms_of
    }


def _nodes(spec: ModelSpec) -> tuple[FloatArray, FloatArray]:
    """Return the proportion vulnerable and mark retention at nodes of equal prior probability."""
    parts = [name for name in ("vulnerable", "mark_retention") if name in spec.priors]
    count = NODES[len(parts)]
    middles = (np.arange(count) + 0.5) / count
    one = np.ones(1)
    vulnerable = spec.priors["vulnerable"].quantile(middles) if "vulnerable" in parts else one
    kept = spec.priors["mark_retention"].quantile(middles) if "mark_retention" in parts else one
    return np.repeat(vulnerable, len(kept)), np.tile(kept, len(vulnerable))


def _joint(
    terms: CountingTerms, density: Prior, area: float, vulnerable: FloatArray, kept: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return vulnerable fish, and the joint density of these and the records at each node."""
    marks, released = float(terms.marks_at_start.sum()), float(terms.marks_released.sum())
    lowest, highest = share_ends(released, float(terms.smallest_share.max()))
    count = int(np.clip(SHARES_PER_ROOT_MARK * np.sqrt(marks), *SHARES))
    # Dense where all marks count: there nearly all mass can lie within a fraction of a mark.
    root = (np.arange(count) + 0.5) / count
    share = highest - (highest - lowest) * root**2
    step, within = _grid(terms.bound - 0.5 + lowest * marks, density, area, COARSE_POINTS)
    counting = _counting(terms, share, within)
    by_chance = share_log_density(np.array([released]), share, (vulnerable * kept)[:, None])
    by_chance = np.exp(by_chance - by_chance.max()) * root
    likelihood = by_chance @ np.exp(counting - counting.max())
    prior = (
        density.log_density(within / (area * vulnerable[:, None]))
        - np.log(vulnerable)[:, None]
        + step
    )
    return within, likelihood * np.exp(prior - prior.max())


def _counting(terms: CountingTerms, share: FloatArray, within: FloatArray) -> FloatArray:
    """Return the counting part by share and number of vulnerable fish, shape (share, point)."""
    marks = float(terms.marks_at_start.sum())
    total = np.zeros((len(share), len(within)))
    with np.errstate(invalid="ignore"):
        for (a, k, _), offset, weight in zip(
            terms.coefficients, terms.offsets, terms.weights, strict=True
        ):
            # Most terms hold one of the two alone, and are as short as that.
            slope = k - a * marks
            fish = within if a else np.zeros(1)
            marked = slope * share[:, None] if slope else np.zeros((1, 1))
            total += weight * gammaln(fish + marked - offset + 1.0)
    unmarked = within - share[:, None] * marks
    return np.where(unmarked >= terms.bound - 0.5, total, -np.inf)


def _mixture(
    within: FloatArray, mass: FloatArray, weight: FloatArray, vulnerable: FloatArray
) -> MarksAlone:
    """Average the abundance over the nodes."""
    shares, node = np.unique(vulnerable, return_inverse=True)
    by_proportion = np.zeros((len(shares), len(within)))
    np.add.at(by_proportion, node, weight[:, None] * mass)
    cumulative = np.cumsum(by_proportion, axis=1)
    if len(shares) == 1:
        return MarksAlone(within / shares[0], cumulative[0])
    abundance = np.geomspace(within[0], within[-1] / shares[0], 2 * len(within))
    total = sum(
        np.interp(share * abundance, within, one, left=0.0, right=float(one[-1]))
        for share, one in zip(shares, cumulative, strict=True)
    )
    return MarksAlone(abundance, np.asarray(total))


def _grid(lower: float, density: Prior, area: float, points: int) -> tuple[FloatArray, FloatArray]:
    """Return logarithms of the room above a bound, evenly spread, and the fish they make."""
    largest = float(density.quantile(np.array([1.0 - PRIOR_TAIL]))[0]) * area
    step = np.linspace(np.log(1e-3), np.log(max(largest, 10.0 * lower + 100.0)), points)
    return step, lower + np.exp(step)
