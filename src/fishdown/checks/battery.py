"""All inexpensive checks of a fit."""

from __future__ import annotations

from dataclasses import replace
from functools import cache, partial
from typing import TYPE_CHECKING

import numpy as np

from fishdown.checks.catches import catch_by_pull
from fishdown.checks.drop import drop_of_catches
from fishdown.checks.recapture_dates import recaptures_by_date
from fishdown.checks.recapture_mixing import recaptures_by_batch, recaptures_by_net
from fishdown.checks.recaptures import total_recaptures
from fishdown.checks.runs import runs_of_nights, runs_of_pulls
from fishdown.checks.sensitivity import records_or_prior
from fishdown.checks.spread import spread_of_catches
from fishdown.checks.weights import weights_by_catch, weights_by_date
from fishdown.posterior.at_draws import drawn_lakes, thinned
from fishdown.posterior.other_nights import hazard_on_other_nights
from fishdown.posterior.replicates import catches_given_past, replicated_recaptures
from fishdown.posterior.weight_replicates import weighed_again

if TYPE_CHECKING:
    from collections.abc import Callable

    from fishdown.checks.result import CheckResult
    from fishdown.posterior.at_draws import DrawnLakes
    from fishdown.posterior.fitted import FittedCampaign
    from fishdown.posterior.weight_replicates import Weighed
    from fishdown.typing import IntArray

# Posterior draws used for replicated records, and for the few seasons that are re-examined.
DRAWS, MANY = 400, 4_000


def checks(fit: FittedCampaign) -> tuple[CheckResult, ...]:
    """Run every check for which a fit has records.

    Returns
    -------
    tuple of CheckResult
        Replicated records are drawn with the seed of the fit. None of a fit whose draws were
        reweighted for new pulls: they refer to the earlier pulls.
    """
    if fit.reweighted:
        return ()
    rng = np.random.default_rng(fit.run.get("seed", 0))
    posterior = fit.tree["posterior"].to_dataset()
    lakes = drawn_lakes(posterior, fit.campaign, fit.spec, most=DRAWS, data=fit.data)

    @cache
    def more() -> DrawnLakes:
        return drawn_lakes(posterior, fit.campaign, fit.spec, most=MANY, data=fit.data)

    @cache
    def more_recaptures() -> Callable[[int], IntArray]:
        return replicated_recaptures(more(), rng)

    @cache
    def on_other_nights(most: int) -> IntArray:
        drawn = lakes if most == DRAWS else more()
        few = thinned(posterior, most)
        hazard = hazard_on_other_nights(few, fit.spec, drawn.data, rng)
        return catches_given_past(replace(drawn, hazard=hazard), rng)

    @cache
    def weighed(most: int) -> Weighed:
        return weighed_again(thinned(posterior, most), fit.campaign, fit.spec, rng)

    found: list[CheckResult | None] = []
    if lakes.hazard.shape[1]:
        drawn = catches_given_past(lakes, rng)
        found += [
            catch_by_pull(fit.campaign, lakes, drawn),
            spread_of_catches(lakes, drawn, rng),
            drop_of_catches(fit.campaign, lakes, rng, more),
        ]
    if fit.spec.part("evidence") != "depletion":
        recaptures = replicated_recaptures(lakes, rng)
        found += [
            check(fit.campaign, lakes, recaptures, lambda season: more_recaptures()(season))
            for check in (total_recaptures, recaptures_by_date, recaptures_by_net)
        ]
        found.append(recaptures_by_batch(fit.campaign, lakes, rng, more))
    if lakes.hazard.shape[1]:
        anew, again = on_other_nights(DRAWS), partial(on_other_nights, MANY)
        found += [
            check(fit.campaign, lakes, anew, rng, again)
            for check in (runs_of_pulls, runs_of_nights)
        ]
    if fit.spec.part("weights") != "none":
        found += [
            check(fit.campaign, weighed(DRAWS), partial(weighed, MANY))
            for check in (weights_by_date, weights_by_catch)
        ]
    found.append(records_or_prior(fit))
    return tuple(result for result in found if result is not None)
