"""All inexpensive checks of a fit."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

import numpy as np

from fishdown.checks.catches import catch_by_pull
from fishdown.checks.drop import drop_of_catches
from fishdown.checks.recaptures import total_recaptures
from fishdown.checks.sensitivity import records_or_prior
from fishdown.checks.spread import spread_of_catches
from fishdown.posterior.at_draws import drawn_lakes
from fishdown.posterior.replicates import catches_given_past

if TYPE_CHECKING:
    from fishdown.checks.result import CheckResult
    from fishdown.posterior.at_draws import DrawnLakes
    from fishdown.posterior.fitted import FittedCampaign

# Posterior draws used for replicated records, and for the few seasons that are re-examined.
DRAWS, MANY = 400, 4_000


def checks(fit: FittedCampaign) -> tuple[CheckResult, ...]:
    """Run every check for which a fit has records.

    Parameters
    ----------
    fit : FittedCampaign

    Returns
    -------
    tuple of CheckResult
        Those about catches first; the lots are drawn with the seed of the fit. None of a fit whose
        draws were reweighted for new pulls: they refer to the earlier pulls.
    """
    if fit.reweighted:
        return ()
    rng = np.random.default_rng(fit.run.get("seed", 0))
    posterior = fit.tree["posterior"].to_dataset()
    lakes = drawn_lakes(posterior, fit.campaign, fit.spec, most=DRAWS)

    @cache
    def more() -> DrawnLakes:
        return drawn_lakes(posterior, fit.campaign, fit.spec, most=MANY)

    found: list[CheckResult | None] = []
    if lakes.hazard.shape[1]:
        drawn = catches_given_past(lakes, rng)
        found += [
            catch_by_pull(fit.campaign, lakes, drawn),
            spread_of_catches(lakes, drawn, rng),
            drop_of_catches(fit.campaign, lakes, rng, more),
        ]
    if fit.spec.part("evidence") != "depletion":
        found.append(total_recaptures(fit.campaign, lakes, rng, more))
    found.append(records_or_prior(fit))
    return tuple(result for result in found if result is not None)
