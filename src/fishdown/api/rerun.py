"""Make a fit again, and say whether it came out alike."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from fishdown.api.fitting import fit
from fishdown.equality import by_value
from fishdown.posterior.reweighting import asked_model, sampled_with
from fishdown.statements.repetition import compared

if TYPE_CHECKING:
    from collections.abc import Callable

    from fishdown.api.fit import Fit
    from fishdown.campaign import Campaign
    from fishdown.posterior.attempts import Progress
    from fishdown.statements.repetition import Repetition


@by_value
@dataclass(frozen=True)
class Rerun:
    """A fit made again.

    Attributes
    ----------
    fit : Fit
        The new one.
    repetition : Repetition
        How it compares with the one before: ``outcome`` is ``identical`` (bit for bit), ``alike``
        (within Monte-Carlo error) or ``different``; ``sentences()`` say how that was judged, and
        what was not the same.
    """

    fit: Fit
    repetition: Repetition


def rerun(
    fitted: Fit,
    campaign: Campaign | None = None,
    *,
    on_progress: Progress | None = None,
    on_retry: Callable[[str], None] | None = None,
    on_stage: Callable[[str], None] | None = None,
) -> Rerun:
    """Make a fit again, with its model, its priors, its seed and its settings of the sampler.

    Parameters
    ----------
    fitted : Fit
        From `fishdown.load`, for example; it stays as it is.
    campaign : Campaign, optional
        The records as they are now; by default those that the fit holds.
    on_progress, on_retry, on_stage : callable, optional
        As those of `fishdown.fit`.

    Returns
    -------
    Rerun

    Raises
    ------
    FitError
        If the records hold nothing to fit, or the sampler failed.
    """
    again = fit(
        fitted.campaign if campaign is None else campaign,
        asked_model(fitted),
        settings=sampled_with(fitted),
        compare_evidence="evidence" in fitted.tree.children,
        compare_lakes="alone" in fitted.tree.children,
        on_progress=on_progress,
        on_retry=on_retry,
        on_stage=on_stage,
    )
    why = {"model_choice": fitted.run.get("model_choice", "")}
    again = replace(again, run={**again.run, **why})
    return Rerun(again, compared(fitted, again))
