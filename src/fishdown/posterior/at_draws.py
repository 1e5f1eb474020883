"""The lakes as the draws of a posterior have them, and what the records say of each draw.

For densities the graph itself is asked: it is evaluated at the draws of its free variables, without
compiling, and so exact for every part that a model may have.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from fishdown.equality import by_value
from fishdown.errors import FitError
from fishdown.models.data import model_data
from fishdown.models.parts.marks.used_up import odds_of_mark, share_left, still_there
from fishdown.models.parts.open_lake.present import RATES, OpenLake
from fishdown.posterior.pull_hazard import pull_hazard, schooling_of_pulls, stacked

if TYPE_CHECKING:
    import xarray as xr

    from fishdown.campaign import Campaign
    from fishdown.models.data import ModelData
    from fishdown.models.spec import ModelSpec
    from fishdown.typing import FloatArray, IntArray, Numbers

# The potentials of a graph that are densities of records; its others are densities of unknowns.
RECORDS = frozenset({
    "counting", "catches", "recaptures", "double_marks", "pens_lived", "pens_retained",
    "heard_tags", "second_looks", "surveys", "survey_efforts", "weights", "lengths_of_fish",
    "fish_alike", "weights_at_length"
})  # fmt: skip
# Draws evaluated at once: a density of recaptures holds draws × catches × numbers of fish.
AT_ONCE = 100


@by_value
@dataclass(frozen=True)
class DrawnLakes:
    """The lakes as the draws of a posterior have them.

    Attributes
    ----------
    data : ModelData
        The records as the model saw them; "pull" counts only the valid pulls.
    hazard : ndarray, shape (draw, pull)
        h; no pulls for mark–recapture only.
    vulnerable_fish : ndarray, shape (draw, season)
        Vulnerable fish before the first pull.
    share : ndarray, shape (draw, release_group)
        Share of the marks of each group that counts, of those released alive.
    carried : ndarray, shape (draw, season)
        Marks of earlier years at large as the season starts, fish.
    schooling : ndarray, shape (draw, pull), or None
        Coefficient of variation of the share that a pull takes; None when fish come by chance.
    odds : ndarray, shape (draw, season), or None
        Capture odds of a marked to an unmarked fish; None if they are alike.
    there : ndarray, shape (draw, season), or None
        Share of the marks kept, seen, and on a living fish, at release; None if all are.
    clumping : ndarray, shape (draw,), or None
        As in `fishdown.models.parts.recaptures`; None when marked fish do not keep together.
    open_lake : OpenLake
        Rates of shape (draw, 1).
    """

    data: ModelData[Numbers]
    hazard: FloatArray
    vulnerable_fish: FloatArray
    share: FloatArray
    carried: FloatArray
    schooling: FloatArray | None = None
    odds: FloatArray | None = None
    there: FloatArray | None = None
    clumping: FloatArray | None = None
    open_lake: OpenLake = field(default_factory=OpenLake)

    def of_marks(
        self, season: int, gone_since: FloatArray, taken: FloatArray, gone_before: FloatArray
    ) -> tuple[FloatArray, FloatArray | None]:
        """Return how the marks at large by the records stand to the fish before a season's catches.

        Parameters
        ----------
        season : int
        gone_since : ndarray, shape (catch,)
            Fish taken since the marks were released.
        taken, gone_before : ndarray, shape (catch,)
            Fish looked at, and fish taken in the season until then.

        Returns
        -------
        visible : ndarray, shape (draw, catch)
            Share of them that is there to be caught.
        odds : ndarray, shape (draw, catch), or None
            By how much easier such a mark is caught and recognised than an unmarked fish.
        """
        fish = self.vulnerable_fish[:, [season]]
        all_of_them = np.ones((len(fish), len(gone_since)))
        if self.odds is None:
            return all_of_them, None
        odds = self.odds[:, [season]] * all_of_them
        if self.there is None:
            return all_of_them, odds
        left = share_left(gone_since, fish)
        visible = still_there(self.there[:, [season]], left, odds)
        return visible, odds_of_mark(visible, odds, taken, fish - gone_before)

    @property
    def before(self) -> FloatArray:
        """Vulnerable fish before each pull, shape (draw, pull)."""
        catches = self.data.catches
        fish: FloatArray = self.open_lake.present(
            self.vulnerable_fish[:, catches.season], catches.gone_before, self.data.times.pulls
        )
        return fish


def thinned(posterior: xr.Dataset, most: int | None = None) -> xr.Dataset:
    """Return at most so many draws, evenly spaced over all chains.

    Parameters
    ----------
    posterior : xarray.Dataset
        Dimensions (chain, draw, …).
    most : int, optional
        By default all, one behind the other.

    Returns
    -------
    xarray.Dataset
        Dimensions (sample, …).
    """
    joined = posterior.stack(sample=("chain", "draw"), create_index=False)
    joined = joined.transpose("sample", ...).drop_vars(("chain", "draw"), errors="ignore")
    count = joined.sizes["sample"]
    if most is None or count <= most:
        return joined
    return joined.isel(sample=evenly_spaced(count, most))


def evenly_spaced(count: int, most: int) -> IntArray:
    """Return the positions of at most so many of all draws, evenly spaced."""
    return np.linspace(0, count - 1, min(count, most)).round().astype(np.int64)


def drawn_lakes(
    posterior: xr.Dataset,
    campaign: Campaign,
    spec: ModelSpec,
    *,
    most: int | None = None,
    data: ModelData[Numbers] | None = None,
) -> DrawnLakes:
    """Evaluate hazards and vulnerable fish at draws of a posterior.

    Parameters
    ----------
    posterior : xarray.Dataset
        Draws of the model's variables, dimensions (chain, draw, …).
    most : int, optional
        Draws to use, at most; all by default, chain by chain.
    data : ModelData, optional
        The records as the model sees them, where they are known already.

    Raises
    ------
    FitError
        If the posterior lacks the catchability of the lakes.
    """
    few = thinned(posterior, most)
    data = model_data(campaign, spec) if data is None else data
    abundance: FloatArray = few["abundance"].values
    groups = np.ones((len(abundance), len(data.counts.group_season)))
    vulnerable = few["vulnerable"].values[:, None] if "vulnerable" in few else 1.0
    hazard, schooling = np.zeros((len(abundance), 0)), None
    if spec.part("evidence") != "marks":
        hazard = pull_hazard(few, spec, data.area, data.catches.lake, data.effects)
        schooling = schooling_of_pulls(few, spec, data.area, data.catches.lake, hazard)
    odds = _odds(few, data)
    return DrawnLakes(
        data=data,
        hazard=hazard,
        vulnerable_fish=abundance * vulnerable,
        share=few["share_of_marks"].values if "share_of_marks" in few else groups,
        carried=few["carried_marks"].values if "carried_marks" in few else 0.0 * abundance,
        odds=odds,
        there=_there(few, odds),
        schooling=schooling,
        clumping=few["clumping"].values if "clumping" in few else None,
        open_lake=rates_at_draws(few),
    )


def rates_at_draws(posterior: xr.Dataset) -> OpenLake:
    """Return the rates at which fish die and immigrate within a season, shape (draw, 1)."""
    return OpenLake(
        *(stacked(posterior[name])[:, None] if name in posterior else None for name in RATES)
    )


def _odds(few: xr.Dataset, data: ModelData[Numbers]) -> FloatArray | None:
    if "capture_odds_ratio" not in few:
        return None
    found: FloatArray = few["capture_odds_ratio"].values[:, data.lake_of_season]
    return found


def _there(few: xr.Dataset, odds: FloatArray | None) -> FloatArray | None:
    if "effective_marks" not in few or odds is None:
        return None
    # A share but for rounding.
    found: FloatArray = np.minimum(few["effective_marks"].values / odds, 1.0)
    return found


def likelihood_of(graph: Any) -> AtDraws:
    """Return what tells the log-probability of all records given draws, for the data of a graph.

    Parameters
    ----------
    graph : pymc.Model
        When other data are put in their place in it, they are what is told of.
    """
    told = [one for one in graph.potentials if one.name in RECORDS]
    return AtDraws(graph, sum(told[1:], start=told[0]))


class AtDraws:
    """Part of a graph, to be evaluated at draws of its free variables again and again.

    Nothing is compiled to machine code.

    Parameters
    ----------
    graph : pymc.Model
    wanted : tensor
        Of the graph.
    """

    def __init__(self, graph: Any, wanted: Any) -> None:
        import pytensor
        import pytensor.tensor as pt
        from pytensor.graph.replace import vectorize_graph

        self._free = [free.name for free in graph.free_RVs]
        self._dimensions = wanted.type.ndim
        fed = [pt.tensor(free.name, shape=(None, *free.type.shape)) for free in graph.free_RVs]
        many = vectorize_graph(wanted, dict(zip(graph.free_RVs, fed, strict=True)))
        self._function = pytensor.function(fed, many, mode="FAST_COMPILE", on_unused_input="ignore")

    def __call__(self, few: xr.Dataset) -> FloatArray:
        """Evaluate it at draws (dimensions sample, …); returns shape (sample, …).

        Raises
        ------
        FitError
            If a free variable is missing.
        """
        missing = sorted(name for name in self._free if name not in few)
        if missing:
            raise FitError(f"the posterior holds no draws of {', '.join(missing)}; fit again")
        draws = [few[name].values for name in self._free]
        count = few.sizes["sample"]
        found = [
            self._function(*(values[first : first + AT_ONCE] for values in draws))
            for first in range(0, count, AT_ONCE)
        ]
        if np.ndim(found[0]) == self._dimensions:
            # It depends on no free variable: one value for all draws.
            return np.broadcast_to(found[0], (count, *np.shape(found[0])))
        return np.concatenate(found)
