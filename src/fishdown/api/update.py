"""New pulls in mid-season: a fit reweighted, or fitted again where that is not enough."""

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
) -> Fit:
    """Take up pulls that came after those of a fit.

    Parameters
    ----------
    fitted : Fit
    campaign : Campaign
        The same records with more pulls in the seasons that were fitted.
    settings : SamplerSettings, optional
        For the new fit, should one be needed; by default those of the earlier one.
    on_refit : callable, optional
        Called with the reason before the model is fitted again.
    on_progress, on_retry : callable, optional
        As those of `fishdown.fit`.

    Returns
    -------
    Fit
        Its ``run["update"]`` says whether the draws were ``reweighted``, the model ``refitted``
        or the fit left ``unchanged`` since no pull came, and why; ``pareto_k`` of the weights with
        its ``limit``; ``draws`` before and now; and whether any draw of the fit is one that was
        ``reweighted``, now or earlier. A comparison of marks with catches, or of lakes with each
        lake alone, stays that of the earlier records when draws were reweighted.
    """
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
    )
    return replace(again, run={**again.run, "update": entry})
