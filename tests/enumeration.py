"""The abundance posterior of one small season by plain enumeration, no sampling.

Every whole number of fish is tried, and catchability and schooling are averaged over their priors
on a fine grid. It is slow, needs constant catchability, and shares nothing with the models but the
priors: SciPy's own distributions are the arithmetic. That makes it the yardstick for the sampled
posterior.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy import stats
from scipy.special import logsumexp

if TYPE_CHECKING:
    from fishdown.campaign import Campaign
    from fishdown.models.spec import ModelSpec
    from fishdown.typing import FloatArray, IntArray


def exact_abundance(
    campaign: Campaign,
    spec: ModelSpec,
    *,
    largest: int,
    share_points: int = 200,
    schooling_points: int = 40,
) -> tuple[IntArray, FloatArray]:
    """Enumerate the posterior of abundance before the first pull.

    Parameters
    ----------
    campaign : Campaign
        One season, no temperature effect, every catch examined or no marks at all.
    spec : ModelSpec
        Without temperature; its priors are used as they stand.
    largest : int
        Largest abundance tried, fish; the posterior must have died out there.
    share_points, schooling_points : int
        Points of equal prior probability over which catchability and schooling are averaged.

    Returns
    -------
    abundance : ndarray of int, shape (number,)
        Fish.
    probability : ndarray, shape (number,)
        Posterior probability of each.
    """
    pulls = {str(name): array.values for name, array in campaign.pulls.data_vars.items()}
    season = campaign.seasons.isel(season=0)
    area = float(campaign.lakes["area"].values[int(season["lake_index"])])
    evidence = spec.part("evidence")
    smallest = float((pulls["gone_before"] + pulls["caught"]).max())
    if evidence != "depletion":
        smallest = float(season["gone"] + season["marks_left"])
    N = np.arange(int(smallest), largest + 1)

    prior = spec.priors["density"]
    log_posterior = prior.log_density(N / area)
    marks = (pulls["caught"], pulls["recaptured"], pulls["marks_at_large"], pulls["gone_before"])
    for C, R, M, gone in zip(*marks, strict=True):
        if evidence != "depletion" and not np.isnan(R):
            log_posterior = log_posterior + stats.hypergeom.logpmf(R, N - gone, M, C)
    if evidence != "marks":
        log_posterior = log_posterior + _log_catches(
            spec, pulls, N, area, share_points, schooling_points
        )
    log_posterior = log_posterior - logsumexp(log_posterior)
    return N, np.exp(log_posterior)


def _log_catches(
    spec: ModelSpec,
    pulls: dict[str, FloatArray],
    N: IntArray,
    area: float,
    share_points: int,
    schooling_points: int,
) -> FloatArray:
    """Log-probability of all catches for each abundance, averaged over the priors."""
    if spec.part("catchability") == "per_lake":
        share = _equal_points(spec, "catchability", share_points)
    else:
        share = 1.0 - np.exp(-_equal_points(spec, "area_fished_ha", share_points) / area)
    q = share[:, None]
    speaks = ~pulls["spoiled"].astype(bool)
    catches = list(zip(pulls["caught"][speaks], pulls["gone_before"][speaks], strict=True))
    if spec.part("catch") == "chance":
        total = sum(stats.binom.logpmf(C, N - gone, q) for C, gone in catches)
        return np.asarray(logsumexp(total, axis=0))
    by_schooling = []
    for s in _equal_points(spec, "schooling", schooling_points):
        a = (1.0 - q) / s**2
        b = (1.0 - q) ** 2 / (q * s**2)
        total = sum(stats.betabinom.logpmf(C, N - gone, a, b) for C, gone in catches)
        by_schooling.append(logsumexp(total, axis=0))
    return np.asarray(logsumexp(np.array(by_schooling), axis=0))


def _equal_points(spec: ModelSpec, name: str, count: int) -> FloatArray:
    return spec.priors[name].quantile((np.arange(count) + 0.5) / count)
