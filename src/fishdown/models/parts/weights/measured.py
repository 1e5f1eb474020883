"""Sums over the measured fish of a campaign, and the source of each season's mean weight."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

import numpy as np

from fishdown.equality import by_value
from fishdown.models.inputs import over
from fishdown.models.parts.weights.densities import power_sums
from fishdown.models.parts.weights.weighings import weighings
from fishdown.records.rules_sizes import FEWEST_PAIRS
from fishdown.words import counted

if TYPE_CHECKING:
    from collections.abc import Mapping

    from fishdown.campaign import Campaign
    from fishdown.models.part import LeftOut
    from fishdown.typing import FloatArray, IntArray, Numbers

    type Flags = np.ndarray[tuple[int], np.dtype[np.bool_]]

_WITHOUT = {
    "weights": "none",
    "lengths": "none",
    "sizes": "by_season",
    "weighed": "at_random",
}

Origin = Literal["weighed", "lengths", "years", "lakes", "nothing"]


@by_value
@dataclass(frozen=True, eq=False)
class WeightData[A]:
    """Sums over the measured fish, the arguments of the densities of this part.

    Attributes
    ----------
    size_known_season, size_known_lake, relation_known_lake : ndarray of bool
        Whether a fish of the season, or of the lake, informs its mean weight, and whether one of
        the lake informs its weight–length relationship.
    weighing_season : ndarray of int, shape (weighing,)
        Position of the season of each weighing.
    weighing_netted : ndarray, shape (weighing,)
        1 if its fish come from nets, 0 if from electrofishing.
    weighing_time, weighing_gone : ndarray, shape (weighing,)
        Time since the season's first pull in units of 30 days, and fish gone since.
    weighed, weight_total, weight_total_log : ndarray, shape (weighing,)
        Number, Σ W (kg) and Σ ln W of the fish that enter by their weight only.
    lengths, length_total_log : ndarray, shape (weighing,)
        Number and Σ x of the fish that enter by their length, x = ln L less `centre`.
    length_powers : ndarray, shape (ORDER + 1, weighing)
        Their `power_sums`.
    pairs, pair_log_length, pair_log_weight : ndarray, shape (lake,)
        Number of fish with both, and the means of x and ln W over them.
    pair_squares : ndarray, shape (3, lake)
        Sums of squares and products about those means: length, both, weight.
    centre : ndarray, shape ()
        Mean of ln L (mm) over the fish with both.
    """

    size_known_season: A = field(metadata=over("season"))
    size_known_lake: A = field(metadata=over("lake"))
    relation_known_lake: A = field(metadata=over("lake"))
    weighing_season: A = field(metadata=over("weighing"))
    weighing_netted: A = field(metadata=over("weighing"))
    weighing_time: A = field(metadata=over("weighing"))
    weighing_gone: A = field(metadata=over("weighing", units="count"))
    weighed: A = field(metadata=over("weighing", units="count"))
    weight_total: A = field(metadata=over("weighing", units="kg"))
    weight_total_log: A = field(metadata=over("weighing"))
    lengths: A = field(metadata=over("weighing", units="count"))
    length_total_log: A = field(metadata=over("weighing"))
    length_powers: A = field(metadata=over("power", "weighing"))
    pairs: A = field(metadata=over("lake", units="count"))
    pair_log_length: A = field(metadata=over("lake"))
    pair_log_weight: A = field(metadata=over("lake"))
    pair_squares: A = field(metadata=over("square", "lake"))
    centre: A = field(metadata=over())


@by_value
@dataclass(frozen=True)
class _Fish:
    """The measured fish that belong to a season."""

    season: IntArray
    lake: IntArray
    log_length: FloatArray
    weight: FloatArray

    @property
    def both(self) -> Flags:
        return ~np.isnan(self.log_length) & ~np.isnan(self.weight)

    @property
    def length_only(self) -> Flags:
        return ~np.isnan(self.log_length) & np.isnan(self.weight)


def fitting_weights(campaign: Campaign, parts: Mapping[str, str]) -> LeftOut:
    """Leave out the parts about weights on which the measured fish carry no information.

    Returns
    -------
    changes : dict of str to str
        Without weights when no fish was weighed. Without the weight–length relationship when every
        measured fish was weighed or when fewer than `FEWEST_PAIRS` have both; without a year
        level when no lake has two seasons; without the selectivity of electrofishing when all fish
        come from nets, but never without that of nets, an uncertainty that no record removes. Only
        what leaves records unused is worth a note.
    notes : tuple of str
        What was left out.
    """
    if parts["weights"] == "none":
        return {}, ()
    if not campaign.weighed.any():
        return dict(_WITHOUT), ("no weights: no biomass",)
    changes = {}
    if parts["weighed"] == "by_gear" and weighings(campaign, parts).netted.all():
        changes["weighed"] = "by_catch"
    lakes = campaign.seasons["lake_index"].values
    if len(np.unique(lakes)) == len(lakes):
        changes["sizes"] = "by_season"
    if parts["lengths"] == "none":
        return changes, ()
    fish = _fish(campaign)
    alone, pairs = int(fish.length_only.sum()), int(fish.both.sum())
    if alone and pairs >= FEWEST_PAIRS:
        return changes, ()
    note = (
        f"{counted(alone, 'fish', 'fish')} with a length but no weight: "
        f"{pairs} with both are too few to estimate weight from length ({FEWEST_PAIRS} needed)"
    )
    return {**changes, "lengths": "none"}, ((note,) if alone else ())


def weight_data(campaign: Campaign, parts: Mapping[str, str]) -> WeightData[Numbers]:
    """Return the sums over the measured fish of a campaign.

    Parameters
    ----------
    campaign : Campaign
    parts : mapping of str to str
        The choices of a model. With the weight–length relationship a fish with a length enters
        by it; without, lengths are not used.
    """
    fish = _fish(campaign)
    seasons, lakes = campaign.seasons.sizes["season"], campaign.lakes.sizes["lake"]
    groups = weighings(campaign, parts)
    count = len(groups.season)
    related = parts["lengths"] != "none"
    both = fish.both & related
    has_length = ~np.isnan(fish.log_length) & related
    by_weight = ~np.isnan(fish.weight) & ~has_length
    centre = float(fish.log_length[both].mean()) if both.any() else 0.0

    def over_weighings(which: Flags, values: FloatArray) -> FloatArray:
        return np.bincount(groups.of_fish[which], values[which], count)

    def over_lakes(values: FloatArray) -> FloatArray:
        return np.bincount(fish.lake[both], values, lakes)

    pairs = np.bincount(fish.lake[both], minlength=lakes).astype(float)
    pair_x, pair_y = fish.log_length[both] - centre, np.log(fish.weight[both])
    mean_x, mean_y = (over_lakes(values) / np.maximum(pairs, 1.0) for values in (pair_x, pair_y))
    off_x, off_y = pair_x - mean_x[fish.lake[both]], pair_y - mean_y[fish.lake[both]]
    informs = by_weight | has_length
    return WeightData(
        size_known_season=np.bincount(fish.season[informs], minlength=seasons) > 0,
        size_known_lake=np.bincount(fish.lake[informs], minlength=lakes) > 0,
        relation_known_lake=pairs > 0,
        weighing_season=groups.season,
        weighing_netted=groups.netted.astype(float),
        weighing_time=groups.time,
        weighing_gone=groups.gone,
        weighed=over_weighings(by_weight, np.ones(len(by_weight))),
        weight_total=over_weighings(by_weight, fish.weight),
        weight_total_log=over_weighings(by_weight, np.log(fish.weight)),
        lengths=over_weighings(has_length, np.ones(len(has_length))),
        length_total_log=over_weighings(has_length, fish.log_length - centre),
        length_powers=power_sums(
            fish.log_length[has_length] - centre, groups.of_fish[has_length], count
        ),
        pairs=pairs,
        pair_log_length=mean_x,
        pair_log_weight=mean_y,
        pair_squares=np.stack(
            [over_lakes(product) for product in (off_x**2, off_x * off_y, off_y**2)]
        ),
        centre=np.array(centre),
    )


def weight_origins(campaign: Campaign, parts: Mapping[str, str]) -> tuple[Origin, ...]:
    """Return the source of the mean weight of each season.

    Parameters
    ----------
    campaign : Campaign
    parts : mapping of str to str
        The choices of the model as it was fitted.

    Returns
    -------
    tuple of str
        ``weighed``: fish of the season itself. ``lengths``: lengths of its fish, none of which
        was weighed. ``years``: other seasons of its lake. ``lakes``: the other lakes.
        ``nothing``: it has the prior only.
    """
    nothing: Origin = "nothing"
    lake = campaign.seasons["lake_index"].values
    weighed = campaign.weighed > 0
    pooled = parts["pooling"] == "lakes"
    if parts["weights"] == "none":
        return (nothing,) * len(lake)
    fish = _fish(campaign)
    related = parts["lengths"] != "none"
    has_length = np.bincount(fish.season[~np.isnan(fish.log_length)], minlength=len(lake)) > 0
    by_length = related & has_length & (pooled | np.isin(lake, fish.lake[fish.both]))
    known = weighed | by_length
    by_years = np.isin(lake, lake[known]) & (parts["sizes"] == "by_lake_and_year")
    origins: list[Origin] = ["lakes" if pooled else nothing] * len(lake)
    by_origin: dict[Origin, Flags] = {"years": by_years, "lengths": by_length, "weighed": weighed}
    for origin, seasons in by_origin.items():
        for season in np.flatnonzero(seasons):
            origins[season] = origin
    return tuple(origins)


def _fish(campaign: Campaign) -> _Fish:
    index = campaign.fish["season_index"].values
    mine = index >= 0
    return _Fish(
        season=index[mine],
        lake=campaign.seasons["lake_index"].values[index[mine]],
        log_length=np.log(campaign.fish["length"].values[mine]),
        weight=campaign.fish["weight"].values[mine],
    )
