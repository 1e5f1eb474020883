"""New pulls added to a fit, in the terminal."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Mapping

    from rich.console import Console

    from fishdown.api.fit import Fit
    from fishdown.campaign import Campaign


def take_up(console: Console, fitted: Fit, campaign: Campaign, sampling: Mapping[str, Any]) -> Fit:
    """Update a fit to the current records, and print how it was done.

    Parameters
    ----------
    sampling : mapping
        Settings of the sampler that were asked for, in place of those of the fit.
    """
    from fishdown.api.update import update
    from fishdown.posterior.reweighting import sampled_with
    from fishdown.statements.updates import how_taken_up
    from fishdown.terminal.progress import stages

    console.print(f"Model {fitted.spec.name}: {fitted.spec.title}")
    with stages(console) as stage:
        found = update(
            fitted,
            campaign,
            settings=replace(sampled_with(fitted), **sampling),
            on_refit=lambda why: console.print(f"Fitting again, since {why}."),
            on_progress=stage.draws,
            on_retry=lambda why: console.print(f"Sampling again, with more care: {why}"),
            on_stage=stage,
        )
    console.print(how_taken_up(found.run["update"]))
    remark = other_model(fitted, campaign)
    if remark:
        console.print(remark)
    return found


def other_model(fitted: Fit, campaign: Campaign) -> str:
    """State the default model of the current records, where it was the fit's and has changed."""
    from fishdown.posterior.choice import choose_model

    before, now = (choose_model(one).spec.name for one in (fitted.campaign, campaign))
    if fitted.spec.name != before or now == before:
        return ""
    return (
        f"An update keeps its model. For these records the default model is now {now}, no longer "
        f"{before}: fishdown fit."
    )
