"""Tags heard alive: what an antenna says of the share of tags that are still there.

A tag is still there with a probability, and if it is, it is heard on each night with a chance of
its own fish: the nights heard of those listened to are beta-binomial (Skellam 1948). Of fish heard
on no night nobody knows whether they are there. The mean chance and how unlike fish are in it are
integrated out by quadrature, for each season of each lake by itself.
"""

from __future__ import annotations

from dataclasses import dataclass, field, fields
from typing import TYPE_CHECKING, Any

import numpy as np
from scipy.special import betaln, expit, gammaln, logit

from fishdown.equality import by_value
from fishdown.models.array_library import NUMPY, log_sum_exp
from fishdown.models.inputs import over

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    import xarray as xr

    from fishdown.campaign import Campaign
    from fishdown.models.priors import Prior
    from fishdown.typing import FloatArray, Numbers

# Nodes for the mean chance and for the unlikeness of fish, over a box that is narrowed this many
# times to where the density is above e^-14 of its largest; of these, the nodes below are left out.
NODES, ROUNDS = (49, 25), 5
_SPAN = 14.0
_WIDEST = 1e-6
_NOTHING = -1e6
# Below this no share of tags goes: its logarithm stays finite where catches showed more tags.
_LEAST_SHARE = 1e-6
# Nearer to 0 or 1 no share is told from them.
_SHARE = 1e-9


@by_value
@dataclass(frozen=True, eq=False)
class HeardTags[A]:
    """The capture histories of all seasons that have any, with nodes of the chance to be heard.

    Attributes
    ----------
    season : ndarray of int, shape (antenna_season,)
        Position of the season.
    heard, lying : ndarray, shape (antenna_season,)
        Tags heard and not caught, and tags known not to be on a living fish.
    caught : ndarray, shape (antenna_season,)
        Share of the season's tags that catches showed to be there.
    node_log_weight : ndarray, shape (antenna_season, antenna_node)
        Logarithm of prior, quadrature weight and probability of the histories of all tags that
        are known to be there, at each node.
    silent : ndarray, shape (antenna_season, silent)
        Tags never heard and not caught, by nights listened; 0 beyond those of a season.
    audible : ndarray, shape (antenna_season, silent, antenna_node)
        Probability at each node that such a tag, if there, is heard on some night.
    """

    season: A = field(metadata=over("antenna_season"))
    heard: A = field(metadata=over("antenna_season", units="count"))
    lying: A = field(metadata=over("antenna_season", units="count"))
    caught: A = field(metadata=over("antenna_season"))
    node_log_weight: A = field(metadata=over("antenna_season", "antenna_node"))
    silent: A = field(metadata=over("antenna_season", "silent", units="count"))
    audible: A = field(metadata=over("antenna_season", "silent", "antenna_node"))

    def only(self, place: int) -> HeardTags[Any]:
        """Return the histories of one season, by its place among those that have any."""
        return HeardTags(**{one.name: getattr(self, one.name)[[place]] for one in fields(self)})


def heard_tags(campaign: Campaign, priors: Mapping[str, Prior]) -> HeardTags[Numbers]:
    """Collect the histories of a campaign that has any.

    Parameters
    ----------
    campaign : Campaign
    priors : mapping of str to Prior
        Of ``heard_per_night`` and ``heard_unlike``.
    """
    rows = campaign.antenna
    seasons = np.unique(rows["season_index"].values)
    parts = [
        _of_season(rows.isel(history=np.flatnonzero(rows["season_index"].values == one)), priors)
        for one in seasons
    ]
    # Seasons have as many nodes as the one with most, and as many kinds of silent tags; nodes that
    # a season lacks have no weight, and of the tags there are none.
    fills = {"node_log_weight": _NOTHING, "silent": 0.0, "audible": 0.0}
    return HeardTags(
        season=seasons,
        **{name: np.array([one[name] for one in parts]) for name in ("heard", "lying", "caught")},
        **{name: _stacked([one[name] for one in parts], fill) for name, fill in fills.items()},
    )


def _stacked(arrays: list[FloatArray], fill: float) -> FloatArray:
    """Stack arrays, each filled up behind to the longest of them."""
    longest = np.max([one.shape for one in arrays], axis=0)
    found = np.full((len(arrays), *longest), fill)
    for place, one in enumerate(arrays):
        own = tuple(slice(length) for length in one.shape)
        found[place][own] = one
    return found


def heard_log_density(heard: HeardTags[Any], still_there: Any, *, xp: Any = NUMPY) -> Any:
    """Log-density of the histories, given the share of tags that are still there.

    Of M tags, R were shown by catches to be there. Recaptures are a factor of their own, so that
    histories are taken given them: of the other tags the share (s M − R)/(M − R) is there.

    Parameters
    ----------
    heard : HeardTags
    still_there : array or tensor, shape (antenna_season,), or a number
        s: probability that a tag is kept and its fish alive.
    xp : module
        The array library in use.

    Returns
    -------
    array or tensor, shape ()
    """
    share = (still_there - heard.caught) / (1.0 - heard.caught)
    # Beyond the upper limit the logarithm of the rest is infinite in floating point.
    share = xp.minimum(xp.maximum(share, _LEAST_SHARE), 1.0 - 1e-12)
    silent = heard.silent[:, :, None] * xp.log1p(-share[:, None, None] * heard.audible)
    integral = log_sum_exp(heard.node_log_weight + silent.sum(axis=1), xp=xp)
    return (heard.heard * xp.log(share) + heard.lying * xp.log1p(-share) + integral).sum()


def log_density_between(
    heard: HeardTags[Numbers], lowest: float, highest: float
) -> Callable[[FloatArray], FloatArray]:
    """Return `heard_log_density` as a function of many shares, interpolated between 400 of them."""
    low, high = logit(np.clip([lowest, highest], _SHARE, 1.0 - _SHARE))
    nodes = np.linspace(low, high, 400)
    known = np.array([heard_log_density(heard, share) for share in expit(nodes)])

    def at(still_there: FloatArray) -> FloatArray:
        logits = logit(np.clip(still_there, _SHARE, 1.0 - _SHARE))
        found: FloatArray = np.interp(logits, nodes, known)
        return found

    return at


def beta_binomial(nights_heard: Any, nights: Any, mean: Any, unlike: Any) -> FloatArray:
    """Log-probability to be heard on so many of the nights.

    Parameters
    ----------
    nights_heard, nights : array
    mean : array
        Mean chance of the fish to be heard on a night.
    unlike : array
        Intra-class correlation, 1/(a + b + 1) of the beta distribution of the fish's chances.
    """
    total = (1.0 - unlike) / unlike
    a, b = mean * total, (1.0 - mean) * total
    ways = (
        gammaln(nights + 1.0) - gammaln(nights_heard + 1.0) - gammaln(nights - nights_heard + 1.0)
    )
    found: FloatArray = ways + betaln(nights_heard + a, nights - nights_heard + b) - betaln(a, b)
    return found


def _of_season(rows: xr.Dataset, priors: Mapping[str, Prior]) -> dict[str, Any]:
    listened, heard, there, tags = (
        rows[name].values for name in ("nights_listened", "nights_heard", "still_there", "tags")
    )
    sure = (there == 1) | (heard > 0)
    silent = ~sure & (there == 0)
    all_tags, caught = float(tags.sum()), float(tags[there == 1].sum())
    histories = [each[sure].astype(float) for each in (heard, listened, tags)]
    nights = listened[silent].astype(float)
    log_weight, mean, unlike = _nodes(histories, (nights, tags[silent]), priors)
    missed = beta_binomial(0.0, nights[:, None], mean, unlike)
    return {
        "heard": float(tags[(there == 0) & (heard > 0)].sum()),
        "lying": float(tags[there == -1].sum()),
        "caught": caught / all_tags if caught < all_tags else 0.0,
        "node_log_weight": log_weight,
        "silent": tags[silent].astype(float),
        "audible": -np.expm1(missed),
    }


def _nodes(
    histories: list[FloatArray], silent: tuple[FloatArray, Any], priors: Mapping[str, Prior]
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return log-weight, mean chance and unlikeness of each node, shape (antenna_node,) each."""
    of_mean, of_unlike = priors["heard_per_night"], priors["heard_unlike"]
    ends = np.array([_WIDEST, 1.0 - _WIDEST])
    box = [logit(prior.quantile(ends)) for prior in (of_mean, of_unlike)]
    for _ in range(ROUNDS):
        axes = [
            np.linspace(low, high, count) for (low, high), count in zip(box, NODES, strict=True)
        ]
        mean, unlike = (expit(each.ravel()) for each in np.meshgrid(*axes, indexing="ij"))
        steps = [axis[1] - axis[0] for axis in axes]
        log_weight = np.log(steps[0] * steps[1]) + sum(
            prior.log_density(value) + np.log(value) + np.log1p(-value)
            for prior, value in ((of_mean, mean), (of_unlike, unlike))
        )
        for nights_heard, nights, tags in zip(*histories, strict=True):
            log_weight += tags * beta_binomial(nights_heard, nights, mean, unlike)
        # If all silent tags are there, they move the density; if none is, they do not.
        moved = log_weight.copy()
        for nights, tags in zip(*silent, strict=True):
            moved += tags * beta_binomial(0.0, nights, mean, unlike)
        kept = (log_weight > log_weight.max() - _SPAN) | (moved > moved.max() - _SPAN)
        places = np.nonzero(kept.reshape(NODES))
        new = [
            (axis[max(place.min() - 1, 0)], axis[min(place.max() + 1, len(axis) - 1)])
            for axis, place in zip(axes, places, strict=True)
        ]
        box = new
    return log_weight[kept], mean[kept], unlike[kept]
