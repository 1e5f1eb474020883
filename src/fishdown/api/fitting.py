"""Fit a campaign, and compare its sources of evidence and its lakes."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from fishdown.api.fit import Fit
from fishdown.checks.evidence import both_speak, catches_alone, compare, marks_alone_spec
from fishdown.models.data import by_catches_alone
from fishdown.posterior.attempts import Compiled, sample_well
from fishdown.posterior.choice import chosen_model
from fishdown.posterior.fitting import put_together
from fishdown.posterior.sampling import SamplerSettings
from fishdown.posterior.standard_groups import standard_groups
from fishdown.statements.comparison import intervals_alone

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from fishdown.campaign import Campaign
    from fishdown.models.spec import ModelSpec
    from fishdown.posterior.attempts import Progress, Sampled

# The stages of a fit.
COMPILING, SAMPLING = "Compiling the model", "Sampling"
PREDICTING = "Predicting the records from the draws"


def fit(
    campaign: Campaign,
    model: str | Path | ModelSpec | None = None,
    *,
    settings: SamplerSettings | None = None,
    compare_evidence: bool = True,
    compare_lakes: bool = False,
    on_progress: Progress | None = None,
    on_retry: Callable[[str], None] | None = None,
    on_stage: Callable[[str], None] | None = None,
) -> Fit:
    """Fit a model to a campaign.

    Parameters
    ----------
    campaign : Campaign
        From `fishdown.read`.
    model : str, path or ModelSpec, optional
        A shipped model's name, a model file, or a specification; by default the campaign's own
        choice or else that of `choose_model`.
    settings : SamplerSettings, optional
        Draws, chains, seed and the like.
    compare_evidence : bool
        Also fit depletion only, and compare it with mark–recapture, where both are available.
    compare_lakes : bool
        Where lakes are pooled, fit them without pooling too, for `Fit.comparison`. What is common
        to all pulls, such as schooling, stays common.
    on_progress : callable, optional
        Called with draws done, draws in all and divergences.
    on_retry : callable, optional
        Called with the reason when sampling is repeated with more care.
    on_stage : callable, optional
        Called with the name of each stage of the work as it begins.

    Returns
    -------
    Fit
        Even when the quality gate failed after all retries; its statements are then withheld.

    Raises
    ------
    ModelFileError
        If there is no such model.
    FitError
        If the records hold nothing to fit, or the sampler failed.
    """
    how = settings or SamplerSettings()
    chosen = chosen_model(campaign, model)
    # As it is fitted: without what no net told, less the parts that nothing feeds.
    campaign, spec = chosen.campaign, chosen.spec

    def begins(stage: str, which: str = "") -> None:
        if on_stage is not None:
            on_stage(f"{stage}: {which}" if which else stage)

    begins(COMPILING)
    compiled = Compiled(campaign, spec, how.sampler)
    begins(SAMPLING)
    fitted = put_together(chosen, sample_well(compiled, how, on_progress, on_retry), how)

    def sampled(one: ModelSpec, which: str) -> Sampled:
        begins(COMPILING, which)
        ready = Compiled(campaign, one, how.sampler)
        begins(SAMPLING, which)
        return sample_well(ready, how, on_progress, on_retry, which)

    def by_catches(which: str) -> Sampled:
        one = catches_alone(spec)
        data = by_catches_alone(compiled.data, campaign, spec)
        # PyMC's own sampler cannot be fed.
        if data is None or how.sampler == "pymc":
            return sampled(one, which)
        begins(SAMPLING, which)
        compiled.feed(data, one)
        return sample_well(compiled, how, on_progress, on_retry, which)

    begins(PREDICTING)
    groups = standard_groups(fitted.tree["posterior"].to_dataset(), campaign, spec, seed=how.seed)
    alone: dict[str, Sampled] = {}
    if compare_evidence and both_speak(campaign, spec):
        alone["depletion only"] = by_catches("depletion only")
        by_marks = marks_alone_spec(spec)
        if by_marks is not None:
            alone["mark–recapture only"] = sampled(by_marks, "mark–recapture only")
        draws = {which: found.quantities["abundance_before"] for which, found in alone.items()}
        groups["evidence"] = compare(
            campaign,
            spec,
            both=fitted.quantities["abundance_before"],
            depletion=draws["depletion only"],
            marks=draws.get("mark–recapture only"),
        )
    each_lake = None
    if compare_lakes and spec.part("pooling") == "lakes":
        each_lake = sampled(spec.with_parts(pooling="none"), "each lake on its own")
        groups["alone"] = intervals_alone(each_lake.quantities, each_lake.quality, campaign)
    run = {
        **fitted.run,
        "alone": {which: found.entry() for which, found in alone.items()},
        "lakes_alone": None if each_lake is None else each_lake.entry(),
    }
    return Fit.of(replace(fitted.holding(groups), run=run))
