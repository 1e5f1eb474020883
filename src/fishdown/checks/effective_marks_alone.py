"""Abundance from mark–recapture only where marks are effective marks, by quadrature.

Seasons are taken one by one: what the recaptures of one lake say of retention, odds and
overdispersion is not carried to the others, which widens the result a little.
"""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import expit, logit, logsumexp

from fishdown.models.data import hears
from fishdown.models.parts.marks.heard import heard_tags, log_density_between
from fishdown.models.parts.marks.pens import lived_log_density, pens, retained_log_density
from fishdown.models.parts.marks.release_groups import examined, groups_of_seasons, kinds_at_large
from fishdown.models.parts.marks.second_looks import second_looks, second_looks_log_density
from fishdown.models.parts.marks.shedding import still_marked
from fishdown.models.parts.marks.used_up import odds_of_mark, share_left, still_there
from fishdown.models.parts.open_lake.times import since_marking

if TYPE_CHECKING:
    from collections.abc import Callable

    from fishdown.campaign import Campaign
    from fishdown.models.parts.marks.pens import Pens
    from fishdown.models.parts.marks.second_looks import SecondLooks
    from fishdown.models.priors import Prior
    from fishdown.models.spec import ModelSpec
    from fishdown.typing import FloatArray, Numbers

# Nodes of equal prior probability for overdispersion, and for effective marks those of so many
# draws from the priors.
CLUMPING_NODES, NODES, DRAWS = 5, 40, 20_000
# Numbers of fish at which it is worked out; between them it is interpolated.
NUMBERS = 80
SEED = 1
_FACTORS = ("clip_retention", "tag_retention", "post_release_survival", "capture_odds_ratio")
_SPREADS = ("retention_spread", "release_survival_spread", "odds_spread")


def by_quadrature(spec: ModelSpec) -> bool:
    """Return whether a model has effective marks that this quadrature can sum over."""
    plain = {"years": "apart", "vulnerable": "all", "evidence": "both"}
    return spec.part("marks") == "effective" and all(
        spec.part(part) == choice for part, choice in plain.items()
    )


def log_likelihoods(campaign: Campaign, spec: ModelSpec) -> Callable[[int, FloatArray], FloatArray]:
    """Return the log-likelihood of a season's recaptures, as a function of its number of fish.

    Averaged over the priors of effective marks and overdispersion, by the density of the graph.

    Returns
    -------
    callable
        Of a season's position, and fish before the first pull, rising, shape (point,); as many
        log-likelihoods.
    """
    from fishdown.models.parts.recaptures.node import at_numbers

    groups = groups_of_seasons(campaign, spec.parts)
    looks, kept, kinds = examined(campaign, groups), pens(campaign), kinds_at_large(campaign)
    waited = since_marking(campaign)
    lake_of_season = campaign.seasons["lake_index"].values
    of_heard = _of_heard(campaign, spec, float(waited.max()))
    twice = second_looks(campaign) if "mark_detection" in spec.priors else None
    clumping: FloatArray = np.zeros(1)
    if spec.part("recaptures") == "clumped":
        middles = (np.arange(CLUMPING_NODES) + 0.5) / CLUMPING_NODES
        clumping = spec.priors["clumping"].quantile(middles)

    def of_season(season: int, abundance: FloatArray) -> FloatArray:
        mine = looks.season == season
        # Effective marks are of one release group a season: an entry a catch.
        marked = looks.released[mine[looks.release_catch]] - looks.removed[mine]
        pen = kept.of_lake(int(lake_of_season[season]))
        there, odds = effective_marks(kinds[season], pen, spec, waited[season], of_heard, twice)
        few = np.geomspace(abundance[0], abundance[-1], min(NUMBERS, len(abundance)))
        # Axes: number of fish, effective marks, overdispersion, catch.
        fish = few[:, None, None, None]
        there, odds = (node[:, None, None] for node in (there, odds))
        visible = still_there(there, share_left(looks.gone_since[mine], fish), odds)
        looked_at, before = looks.looked_at[mine], fish - looks.gone_before[mine]
        others = (looks.looked_at - looks.recaptured)[mine]
        unmarked = np.maximum(before - visible * marked, others)
        density = at_numbers(
            looks.recaptured[mine],
            looked_at,
            marked,
            unmarked,
            odds=odds_of_mark(visible, odds, looked_at, before),
            clumping=clumping[:, None],
        ).sum(axis=3)
        by_number = logsumexp(density, axis=(1, 2))
        finite = np.isfinite(by_number)
        found: FloatArray = np.interp(
            np.log(abundance), np.log(few[finite]), by_number[finite], left=-np.inf
        )
        return found

    return of_season


def prior_of_effective_marks(
    kinds: FloatArray,
    spec: ModelSpec,
    waited: float,
    looks: SecondLooks[Numbers] | None = None,
) -> FloatArray:
    """Draw effective marks for each mark released from the priors.

    Parameters
    ----------
    kinds : ndarray, shape (kind,)
        Share of each kind of mark.
    waited : float
        From marking to the first pull, years.
    looks : SecondLooks, optional
        Beyond the priors, what second looks tell of the detection of marks.
    """
    odds = _factors(spec)[-1]
    found: FloatArray = odds * _there(kinds, spec, waited, looks)
    return found


def _there(
    kinds: FloatArray, spec: ModelSpec, waited: float, looks: SecondLooks[Numbers] | None
) -> FloatArray:
    """Draw the share of the marks kept, seen, and on a living fish."""
    clip, tag, alive, _ = _factors(spec)
    kept: FloatArray = still_marked(kinds[None], clip, tag) * alive * _detection(spec, looks)
    return kept * _not_dead_since(spec, waited)


def _detection(spec: ModelSpec, looks: SecondLooks[Numbers] | None) -> FloatArray:
    """Draw the probability that a look finds a mark that is there, given any second looks."""
    if "mark_detection" not in spec.priors:
        return np.ones(DRAWS)
    middles = (np.arange(DRAWS) + 0.5) / DRAWS
    detection = spec.priors["mark_detection"].quantile(middles)
    log_weight = np.zeros(DRAWS)
    if looks is not None:
        log_weight = second_looks_log_density(looks, detection)
    cumulated = np.cumsum(np.exp(log_weight - log_weight.max()))
    drawn = np.random.default_rng(SEED + 3).random(DRAWS)
    found: FloatArray = np.interp(drawn, cumulated / cumulated[-1], detection)
    return found


def _not_dead_since(spec: ModelSpec, waited: float) -> FloatArray:
    """Draw the share of the marked fish that did not die of natural causes before the pulls."""
    if spec.part("natural_deaths") != "steady":
        return np.ones(DRAWS)
    rng = np.random.default_rng(SEED + 2)
    return np.exp(-spec.priors["natural_mortality"].draw(rng, DRAWS) * waited)


def effective_marks(
    kinds: FloatArray,
    kept: Pens[Numbers],
    spec: ModelSpec,
    waited: float,
    of_heard: Callable[[FloatArray], FloatArray] | None = None,
    looks: SecondLooks[Numbers] | None = None,
) -> tuple[FloatArray, FloatArray]:
    """Return effective marks at nodes of equal probability, given what else tells of them.

    Pens, tags heard, and second looks.

    Returns
    -------
    there, odds : ndarray, shape (node,)
        Share of the marks that is there, and capture odds; effective marks are their product.
    """
    clip, tag, alive, _ = _factors(spec)
    log_weight = lived_log_density(kept, alive)
    log_weight = log_weight + retained_log_density(kept, clip[:, None], tag[:, None])
    if of_heard is not None:
        log_weight = log_weight + of_heard(tag * alive * _not_dead_since(spec, waited))
    weight = np.exp(log_weight - log_weight.max())
    there, odds = _there(kinds, spec, waited, looks), _factors(spec)[-1]
    order = np.argsort(there * odds)
    cumulated = np.cumsum(weight[order])
    middles = (np.arange(NODES) + 0.5) / NODES
    chosen = order[np.searchsorted(cumulated, middles * cumulated[-1])]
    return there[chosen], odds[chosen]


def _of_heard(
    campaign: Campaign, spec: ModelSpec, longest: float
) -> Callable[[FloatArray], FloatArray] | None:
    """Return what tags heard say of the share still there, after so many years at the most."""
    if not hears(campaign, spec):
        return None
    _, tag, alive, _ = _factors(spec)
    last = tag * alive * _not_dead_since(spec, longest)
    heard = heard_tags(campaign, spec.priors)
    return log_density_between(heard, float(last.min()), float((tag * alive).max()))


def _factors(spec: ModelSpec) -> tuple[FloatArray, ...]:
    """Draw the factors of effective marks in a lake; the same for every season."""
    priors = tuple(spec.priors[name] for name in _FACTORS)
    if spec.part("pooling") == "none":
        return _drawn(priors)
    return _drawn(priors, tuple(spec.priors[name] for name in _SPREADS))


@cache
def _drawn(
    priors: tuple[Prior, ...], spreads: tuple[Prior, ...] | None = None
) -> tuple[FloatArray, ...]:
    """Draw retention of clips and tags, survival and odds; of a lake among others with spreads."""
    rng = np.random.default_rng(SEED)
    clip, tag, alive, odds = (prior.draw(rng, DRAWS) for prior in priors)
    if spreads is None:
        return clip, tag, alive, odds
    rng = np.random.default_rng(SEED + 1)
    kept, lived, apart = (one.draw(rng, DRAWS) * rng.normal(size=DRAWS) for one in spreads)
    return (
        *(expit(logit(share) + kept) for share in (clip, tag)),
        expit(logit(alive) + lived),
        odds * np.exp(apart),
    )
