"""Many campaigns at once: one graph, compiled once, and one NUTS over all of them.

Campaigns share a graph if their models have the same parts and priors after `fitting_spec`, and
what is not padded (`fishdown.models.padding`) has the same lengths: lakes, seasons, release groups.
Nets and nights may be fewer than the graph has steps for; such steps keep to their priors.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from itertools import batched
from typing import TYPE_CHECKING, Any

from fishdown.equality import by_value
from fishdown.errors import FitError
from fishdown.models.data import (
    active_effects,
    group_counts,
    model_data,
    step_coords,
)
from fishdown.models.padding import PADDED, common_lengths, lengths_of, padded, with_room
from fishdown.posterior.choice import chosen_model
from fishdown.posterior.jaxified import JaxGraph, need_jax, stacked
from fishdown.posterior.quality import judge
from fishdown.posterior.quantities import reported_quantities
from fishdown.posterior.vectorised import VectorisedNuts, tree_of

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator
    from pathlib import Path

    import xarray as xr

    from fishdown.campaign import Campaign
    from fishdown.models.data import ModelData
    from fishdown.models.spec import ModelSpec
    from fishdown.posterior.quality import Quality
    from fishdown.posterior.sampling import SamplerSettings
    from fishdown.typing import Numbers


@by_value
@dataclass(frozen=True, eq=False)
class Prepared:
    """A campaign with its model and the arrays of the graph.

    Attributes
    ----------
    campaign : Campaign
    spec : ModelSpec
        Without the parts on which the campaign carries no information.
    notes : tuple of str
        What was left out.
    data : ModelData
    """

    campaign: Campaign
    spec: ModelSpec
    notes: tuple[str, ...]
    data: ModelData[Numbers]


@by_value
@dataclass(frozen=True, eq=False)
class CampaignDraws:
    """The sampled posterior of one of many campaigns.

    Attributes
    ----------
    number : int
        Which campaign.
    campaign : Campaign
    spec : ModelSpec
        As it was fitted.
    notes : tuple of str
        What was left out of the model.
    tree : xarray.DataTree
        Groups ``posterior`` and ``sample_stats``, as a sampler of single campaigns gives them.
    """

    number: int
    campaign: Campaign
    spec: ModelSpec
    notes: tuple[str, ...]
    tree: xr.DataTree

    @property
    def posterior(self) -> xr.Dataset:
        """Draws of all variables of the model, dimensions (chain, draw, …)."""
        return self.tree["posterior"].to_dataset()

    @property
    def divergences(self) -> int:
        """Number of divergent transitions."""
        return int(self.tree["sample_stats"].dataset["diverging"].values.sum())

    @cached_property
    def quantities(self) -> xr.Dataset:
        """The reported quantities, see `fishdown.posterior.quantities`."""
        return reported_quantities(self.posterior, self.campaign, self.spec)

    @cached_property
    def quality(self) -> Quality:
        """R-hat, effective sample sizes and divergences; whether statements may be made."""
        return judge(self.quantities, self.tree["sample_stats"].to_dataset())


def prepare(campaign: Campaign, model: str | Path | ModelSpec | None = None) -> Prepared:
    """Choose a campaign's model as `fishdown.fit` does, and collect the arrays of its graph.

    Raises
    ------
    ModelFileError
        If there is no such model.
    FitError
        If the records hold nothing to fit.
    """
    chosen = chosen_model(campaign, model)
    data = model_data(chosen.campaign, chosen.spec)
    return Prepared(chosen.campaign, chosen.spec, chosen.notes, data)


class ManySampler:
    """Samples campaigns in batches, and keeps what it compiled for the next ones.

    Parameters
    ----------
    settings : SamplerSettings
        Draws, tuning draws, chains, seed and target acceptance; the sampler is NumPyro's.
    at_once : int
        Campaigns in a batch. Its draws are all in memory at once.
    max_tree_depth : int
        A trajectory has at most two to this power steps: the whole batch waits for the longest.

    Raises
    ------
    FitError
        If JAX or NumPyro is not installed, or `at_once` or `max_tree_depth` is below 1.
    """

    def __init__(
        self, settings: SamplerSettings, *, at_once: int = 1024, max_tree_depth: int = 8
    ) -> None:
        need_jax()
        for name, value in (("at_once", at_once), ("max_tree_depth", max_tree_depth)):
            if value < 1:
                raise FitError(f"{name} = {value}: write a whole number, 1 or more")
        self._settings = settings
        self._at_once = at_once
        self._depth = max_tree_depth
        self._graphs: dict[Any, list[_Graph]] = {}

    def sample(
        self,
        campaigns: Iterable[tuple[int, Prepared]],
        on_progress: Callable[[int, int, int], None] | None = None,
    ) -> Iterator[CampaignDraws]:
        """Draw from the posterior of every campaign.

        Parameters
        ----------
        campaigns : iterable of (int, Prepared)
            Each with a number, which with the seed determines its random numbers; taken batch by
            batch.
        on_progress : callable, optional
            Called with draws done, draws in all and divergences of what is sampled at once.

        Yields
        ------
        CampaignDraws
            Batch by batch; within a batch those that share a graph stand together.

        Raises
        ------
        FitError
            If no place to start was found for a campaign.
        """
        for batch in batched(campaigns, self._at_once):
            shared: dict[_Graph, list[tuple[int, Prepared]]] = {}
            # The largest first, so that others find a graph that holds them.
            for number, one in sorted(batch, key=lambda pair: -_size(pair[1])):
                shared.setdefault(self._graph_of(one), []).append((number, one))
            for graph, of_graph in shared.items():
                in_order = sorted(of_graph, key=lambda pair: pair[0])
                yield from graph.sample(in_order, self._settings, on_progress)

    def _graph_of(self, one: Prepared) -> _Graph:
        known = self._graphs.setdefault(_shared(one), [])
        for graph in known:
            if graph.holds(one.data):
                return graph
        known.append(_Graph(one, self._depth))
        return known[-1]


class _Graph:
    """A compiled graph, and the lengths to which its data are padded."""

    def __init__(self, one: Prepared, max_tree_depth: int) -> None:
        from fishdown.models.graph import build

        self._room = group_counts(one.data)
        self._graph = JaxGraph(build(one.spec, one.data, one.campaign.coords))
        self._nuts = VectorisedNuts(self._graph, max_tree_depth)
        self._lengths: dict[str, int] = {}

    def holds(self, data: ModelData[Numbers]) -> bool:
        return all(count <= self._room[dim] for dim, count in group_counts(data).items())

    def sample(
        self,
        campaigns: list[tuple[int, Prepared]],
        settings: SamplerSettings,
        on_progress: Callable[[int, int, int], None] | None,
    ) -> Iterator[CampaignDraws]:
        self._lengths = common_lengths((one.data for _, one in campaigns), self._lengths)
        arrays = [self._graph.data(padded(one.data, self._lengths)) for _, one in campaigns]
        numbers = [number for number, _ in campaigns]
        # Batches of few different sizes, so that little is compiled anew: the last campaign again.
        more = with_room(len(campaigns)) - len(campaigns)
        drawn = self._nuts.sample(
            stacked([*arrays, *arrays[-1:] * more]),
            [*numbers, *numbers[-1:] * more],
            draws=settings.draws,
            tune=settings.tune,
            chains=settings.chains,
            seed=settings.seed,
            target_accept=settings.target_accept,
            on_progress=on_progress,
        )
        for place, (number, one) in enumerate(campaigns):
            coords = {**one.campaign.coords, **step_coords(one.data, one.spec)}
            tree = tree_of(drawn, place, self._graph.dims, coords)
            yield CampaignDraws(number, one.campaign, one.spec, one.notes, tree)


def _shared(one: Prepared) -> Any:
    """Return what campaigns have in common that share a graph, but for their nets and nights."""
    data, winters = one.data, one.data.winters
    return (
        tuple(one.spec.parts.items()),
        tuple((name, prior.family, prior.numbers) for name, prior in one.spec.priors.items()),
        one.spec.reference_temperature,
        tuple((dim, length) for dim, length in lengths_of(data).items() if dim not in PADDED),
        tuple(
            steps.count(data.effects[effect.name])
            for effect in active_effects(one.spec)
            for steps in effect.steps
            if steps.count is not None
        ),
        None
        if winters is None
        else (
            tuple(data.lake_of_season.tolist()),
            tuple(winters.starts.tolist()),
            tuple(winters.after.tolist()),
            tuple(tuple(level.tolist()) for level in winters.carrying),
            winters.any_connected,
            winters.any_young_eaten,
        ),
    )


def _size(one: Prepared) -> int:
    return sum(group_counts(one.data).values())
