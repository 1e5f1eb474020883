"""New pulls in mid-season: reweight a fit, or fit again where that is unreliable."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from fishdown.api.fitting import fit
from fishdown.posterior.reweighting import asked_model, sampled_with, taken_up

if TYPE_CHECKING:
    from collections.abc import Callable

    from fishdown.api.fit import Fit
    from fishdown.campaign import Campaign
    from fishdown.posterior.attempts import Progress
    from fishdown.posterior.sampling import SamplerSettings


def update(
    fitted: Fit,
    campaign: Campaign,
    *,
    settings: SamplerSettings | None = None,
    on_refit: Callable[[str], None] | None = None,
    on_progress: Progress | None = None,
    on_retry: Callable[[str], None] | None = None,
    on_stage: Callable[[str], None] | None = None,
) -> Fit:
    """Add new pulls to a fit.

    Parameters
    ----------
    fitted : Fit
    campaign : Campaign
        The same records with more pulls in the seasons that were fitted.
    settings : SamplerSettings, optional
        For the new fit, should one be needed; by default those of the earlier one.
    on_refit : callable, optional
        Called with the reason before the model is fitted again.
    on_progress, on_retry, on_stage : callable, optional
        As those of `fishdown.fit`.

    Returns
    -------
    Fit
        Its ``run["update"]`` says whether the draws were ``reweighted``, the model ``refitted``
        or the fit left ``unchanged`` as there are no new pulls, and why; ``pareto_k`` of the
        weights with its ``limit``; ``draws`` before and now; and whether any draw of the fit was
        ``reweighted``, now or earlier. The comparison of mark–recapture with depletion, and that
        of lakes with their separate fits, stay those of the earlier records after reweighting.
    """
    if on_stage is not None:
        on_stage("Reweighting the draws")
    found, entry = taken_up(fitted, campaign)
    if found is not None:
        return found
    if on_refit is not None:
        on_refit(entry["why"])
    again = fit(
        campaign,
        asked_model(fitted),
        settings=settings or sampled_with(fitted),
        compare_lakes="alone" in fitted.tree.children,
        on_progress=on_progress,
        on_retry=on_retry,
        on_stage=on_stage,
    )
    return replace(again, run={**again.run, "update": entry})
