"""Abundance from mark–recapture only where marks are effective marks, by quadrature.

Seasons are taken one by one: what the recaptures of one lake say of retention, odds and
overdispersion is not carried to the others, which widens the result a little.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy.special import logsumexp

from fishdown.models.parts.marks.pens import lived_log_density, pens, retained_log_density
from fishdown.models.parts.marks.release_groups import examined, groups_of_season, kinds_at_large
from fishdown.models.parts.marks.shedding import still_marked

if TYPE_CHECKING:
    from fishdown.campaign import Campaign
    from fishdown.models.spec import ModelSpec
    from fishdown.typing import FloatArray

# Nodes of equal prior probability for overdispersion, and for effective marks those of so many
# draws from the priors.
CLUMPING_NODES, NODES, DRAWS = 5, 100, 20_000
SEED = 1


def weighed(spec: ModelSpec) -> bool:
    """Return whether a model has effective marks that this quadrature can sum over."""
    plain = {"years": "apart", "vulnerable": "all", "evidence": "both"}
    return spec.part("marks") == "effective" and all(
        spec.part(part) == choice for part, choice in plain.items()
    )


def log_likelihood(
    campaign: Campaign, spec: ModelSpec, season: int, abundance: FloatArray
) -> FloatArray:
    """Return the log-likelihood of a season's recaptures, by its number of fish.

    Averaged over the priors of effective marks and overdispersion. A fish whose mark counts for κ
    fish is caught like κ of them, so that with M marks among N fish the recaptures are those of
    M + (N − M)/κ fish whose marks all count: the noncentral hypergeometric distribution to first
    order in the share that a pull takes (Fisher 1935).

    Parameters
    ----------
    campaign : Campaign
    spec : ModelSpec
    season : int
        Its position.
    abundance : ndarray, shape (point,)
        Fish before the first pull, rising.

    Returns
    -------
    ndarray, shape (point,)
    """
    from fishdown.models.parts.recaptures.node import at_numbers

    groups = [groups_of_season(campaign, one, apart=False) for one in _seasons(campaign)]
    looks = examined(campaign, groups)
    mine = looks.season == season
    of_mine = mine[looks.release_catch]
    marked = looks.released[of_mine] - looks.removed[mine]
    clumping: FloatArray = np.zeros(1)
    if spec.part("recaptures") == "clumped":
        middles = (np.arange(CLUMPING_NODES) + 0.5) / CLUMPING_NODES
        clumping = spec.priors["clumping"].quantile(middles)
    # Every number of fish may be needed that some κ makes of these.
    ratio = effective_marks(campaign, spec, season)
    marks = float(groups[season].released.sum())
    spread = np.log(ratio[[0, -1]])
    like = np.exp(
        np.linspace(
            np.log(abundance[0]) - max(spread[1], 0.0),
            np.log(abundance[-1]) - min(spread[0], 0.0),
            len(abundance),
        )
    )
    # Fewer fish than the records allow have no chance.
    unmarked = like[:, None, None] - looks.gone_before[mine] - marked
    density = at_numbers(
        looks.recaptured[mine],
        looks.caught[mine],
        marked,
        unmarked,
        clumping=clumping[:, None],
    ).sum(axis=2)
    by_number = logsumexp(density, axis=1)
    finite = np.isfinite(by_number)
    as_many = np.maximum(marks + (abundance[:, None] - marks) / ratio, like[finite][0])
    found: FloatArray = logsumexp(
        np.interp(np.log(as_many), np.log(like[finite]), by_number[finite]), axis=1
    )
    return found


def prior_of_effective_marks(campaign: Campaign, spec: ModelSpec, season: int) -> FloatArray:
    """Draw effective marks for each mark released in one season's lake from the priors."""
    clip, tag, alive, odds = _factors(spec).values()
    rng = np.random.default_rng(SEED + 1)
    ratio: FloatArray = still_marked(kinds_at_large(campaign)[[season]], clip, tag) * alive * odds
    if spec.part("pooling") == "lakes":
        ratio = ratio * np.exp(spec.priors["odds_spread"].draw(rng, DRAWS) * rng.normal(size=DRAWS))
    return ratio


def _factors(spec: ModelSpec) -> dict[str, FloatArray]:
    rng = np.random.default_rng(SEED)
    names = ("clip_retention", "tag_retention", "post_release_survival", "capture_odds_ratio")
    return {name: spec.priors[name].draw(rng, DRAWS) for name in names}


def effective_marks(campaign: Campaign, spec: ModelSpec, season: int) -> FloatArray:
    """Return the same at nodes of equal probability, given the pens of the crew."""
    drawn = _factors(spec)
    kept = pens(campaign)
    clip, tag = (drawn[name][:, None] for name in ("clip_retention", "tag_retention"))
    log_weight = lived_log_density(kept, drawn["post_release_survival"])
    log_weight = log_weight + retained_log_density(kept, clip, tag)
    weight = np.exp(log_weight - log_weight.max())
    ratio = prior_of_effective_marks(campaign, spec, season)
    middles = (np.arange(NODES) + 0.5) / NODES
    found: FloatArray = np.quantile(ratio, middles, weights=weight, method="inverted_cdf")
    return found


def _seasons(campaign: Campaign) -> range:
    return range(campaign.seasons.sizes["season"])
