"""Fit the same model to many campaigns at once."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fishdown.posterior.many import ManySampler, prepare
from fishdown.posterior.sampling import SamplerSettings

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator
    from pathlib import Path

    from fishdown.campaign import Campaign
    from fishdown.models.spec import ModelSpec
    from fishdown.posterior.many import CampaignDraws


def fit_many(
    campaigns: Iterable[Campaign],
    model: str | Path | ModelSpec | None = None,
    *,
    settings: SamplerSettings | None = None,
    at_once: int = 1024,
    max_tree_depth: int = 8,
    on_progress: Callable[[int, int, int], None] | None = None,
) -> Iterator[CampaignDraws]:
    """Sample the posteriors of many campaigns, each by itself and all in step.

    For simulated campaigns by the thousand, on a graphics processor. A graph is compiled once for
    all campaigns whose models have the same parts, and as many lakes and seasons. Nothing is
    retried: look at `CampaignDraws.quality`.

    Parameters
    ----------
    campaigns : iterable of Campaign
        Taken batch by batch.
    model : str, path or ModelSpec, optional
        As for `fishdown.fit`.
    settings : SamplerSettings, optional
        4 chains of 500 draws after 500 tuning draws by default. The sampler is NumPyro's, whatever
        they say.
    at_once : int
        Campaigns in a batch, as memory allows: a draw takes about a kilobyte.
    max_tree_depth : int
        A trajectory has at most two to this power steps: the whole batch waits for the longest.
    on_progress : callable, optional
        Called with draws done, draws in all and divergences of what is sampled at once.

    Yields
    ------
    CampaignDraws
        Batch by batch; within a batch those that share a graph stand together. `number` is the
        position of the campaign.

    Raises
    ------
    ModelFileError
        If there is no such model.
    FitError
        If JAX or NumPyro is not installed, the records of a campaign hold nothing to fit, or the
        sampler found no place to start.
    """
    settings = settings or SamplerSettings(draws=500, tune=500, sampler="numpyro")
    sampler = ManySampler(settings, at_once=at_once, max_tree_depth=max_tree_depth)
    prepared = enumerate(prepare(campaign, model) for campaign in campaigns)
    return sampler.sample(prepared, on_progress)
