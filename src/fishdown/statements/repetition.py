"""A fit made again beside the one before: whether they are alike, how judged, and why not.

Draws that are the same to the last bit need no judgement. Else each reported value is compared: the
ends and the middle of the 90 % interval of every quantity, and the probability that a lake is below
its threshold. With Monte-Carlo standard errors s₁ and s₂ [1]_ the difference of two independent
estimates has the standard error √(s₁² + s₂²) [2]_. The fits are alike if no difference is larger
than chance makes the largest of them once in a hundred repetitions at most, by the inequality of
Bonferroni [3]_.

References
----------
.. [1] Vehtari, Gelman, Simpson, Carpenter & Bürkner 2021. Rank-normalization, folding, and
   localization: an improved R-hat. Bayesian Analysis 16:667–718. doi:10.1214/20-BA1221 (of
   quantiles and of means of indicators)
.. [2] JCGM 100:2008. Guide to the expression of uncertainty in measurement, equation 10.
.. [3] Dunn 1961. Multiple comparisons among means. Journal of the American Statistical Association
   56:52–64.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from fishdown.intervals import TAILS
from fishdown.posterior.quantities import quantities
from fishdown.statements.probability import probability_below, says
from fishdown.units import label, shown
from fishdown.words import amount, counted, percent

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    import xarray as xr

    from fishdown.posterior.fitted import FittedCampaign
    from fishdown.typing import FloatArray

# How often two fits of the same records are taken as different.
FALSE_ALARM = 0.01
_POINTS = {"lower end": TAILS[0], "median": 0.5, "upper end": TAILS[1]}
_PROBABILITY = "probability of being below the threshold"


@dataclass(frozen=True)
class Difference:
    """One reported value in both fits.

    Attributes
    ----------
    what : str
        In words.
    before, now : float
        In `unit`.
    unit : str
        Metric, or empty for a probability.
    errors : float
        By how many standard errors they differ.
    """

    what: str
    before: float
    now: float
    unit: str
    errors: float


@dataclass(frozen=True)
class Repetition:
    """How a fit that was made again came out.

    Attributes
    ----------
    outcome : {"identical", "alike", "different"}
    draws : int
        Of the fit that was made again, in all chains.
    compared : int
        Reported values that were compared.
    limit : float
        Standard errors up to which they count as alike.
    largest : Difference or None
        The largest difference in standard errors; None where there is none.
    reasons : tuple of str
        What was not the same, in sentences.
    converged : bool
        Whether both fits passed the gate of convergence; else errors mean little.
    """

    outcome: Literal["identical", "alike", "different"]
    draws: int
    compared: int
    limit: float
    largest: Difference | None
    reasons: tuple[str, ...]
    converged: bool

    def sentences(self) -> tuple[str, ...]:
        """Return the verdict, how it was judged and why the fits may differ."""
        if self.outcome == "identical":
            return (
                f"Alike bit for bit: all {self.draws:,} draws of every reported quantity are those "
                "of the fit.",
                *self.reasons,
            )
        judged = (
            f"Judged by {counted(self.compared, 'reported value')} (median and both ends of the "
            "90 % interval of every quantity, and the probability of being below the threshold): "
            f"each may differ by up to {self.limit:.1f} times the Monte-Carlo standard error of "
            f"the difference, which chance exceeds for any of them in {percent(FALSE_ALARM)} of "
            "repetitions at most."
        )
        alike = self.outcome == "alike"
        said = "Alike within Monte-Carlo error" if alike else "NOT alike"
        if self.largest is not None:
            said += f": {_in_words(self.largest)}"
        doubt = (
            "At least one of the two did not converge, so that its Monte-Carlo errors mean little."
        )
        unexplained = (
            "Records, model, versions and sampler settings are the same. Another computer, or "
            "another number of its cores, rounds differently, and chains then part."
        )
        return (
            f"{said}.",
            judged,
            *(() if self.converged else (doubt,)),
            *(self.reasons or (unexplained,)),
        )


def compared(before: FittedCampaign, now: FittedCampaign) -> Repetition:
    """Compare a fit with the same fit made again.

    Parameters
    ----------
    before, now : FittedCampaign
        The second is judged, season by season where the first has that season too.
    """
    found = list(_differences(before, now))
    same = _same_draws(before.quantities, now.quantities)
    limit = _limit(len(found))
    largest = max(found, key=lambda one: one.errors, default=None)
    alike = bool(found) and (largest is None or largest.errors <= limit)
    sizes = now.quantities.sizes
    return Repetition(
        outcome="identical" if same else "alike" if alike else "different",
        draws=int(sizes["chain"] * sizes["draw"]),
        compared=len(found),
        limit=limit,
        largest=largest,
        reasons=tuple(_reasons(before, now)),
        converged=before.quality.passed and now.quality.passed,
    )


def _same_draws(before: xr.Dataset, now: xr.Dataset) -> bool:
    return {*before.data_vars} == {*now.data_vars} and all(
        np.array_equal(before[name].values, now[name].values, equal_nan=True)
        for name in before.data_vars
    )


def _limit(count: int) -> float:
    from scipy import stats

    return float(stats.norm.isf(FALSE_ALARM / (2.0 * max(count, 1))))


def _differences(before: FittedCampaign, now: FittedCampaign) -> Iterator[Difference]:
    places = {str(name): place for place, name in enumerate(_seasons(before))}
    known = quantities()
    for place, name in [(None, ""), *enumerate(_seasons(now))]:
        if place is None:
            where = where_before = {}
        elif str(name) in places:
            where, where_before = {"season": place}, {"season": places[str(name)]}
        else:
            continue
        of_season = f" of {name}" if name else ""
        for quantity in now.quantities.data_vars:
            one, other = (fit.quantities.get(quantity) for fit in (before, now))
            if one is None or other is None or ("season" in other.dims) != (place is not None):
                continue
            if place is not None and not says(now, str(quantity), place):
                continue
            draws = one.isel(where_before).values, other.isel(where).values
            for point, at in _POINTS.items():
                yield _difference(
                    f"{point} of the {known[str(quantity)].meaning}{of_season}",
                    *(_quantile(values, at) for values in draws),
                    unit=known[str(quantity)].unit,
                )
        if place is not None and says(now, "biomass_after", place):
            threshold = float(now.campaign.lake_of(place)["threshold"])
            both = [
                probability_below(fit.quantities["biomass_after"].isel(there).values, threshold)
                for fit, there in ((before, where_before), (now, where))
                if "biomass_after" in fit.quantities
            ]
            if len(both) == 2:
                yield _difference(f"{_PROBABILITY}{of_season}", *both, unit="")


def _seasons(fit: FittedCampaign) -> Any:
    return fit.campaign.seasons["season"].values


def _quantile(draws: FloatArray, at: float) -> tuple[float, float]:
    """Return a quantile and its Monte-Carlo standard error."""
    from arviz_stats.base import array_stats

    error = float(array_stats.mcse(draws, method="quantile", prob=at))
    # The same in every draw: nothing to estimate.
    return float(np.quantile(draws, at)), 0.0 if math.isnan(error) else error


def _difference(
    what: str, before: tuple[float, float], now: tuple[float, float], *, unit: str
) -> Difference:
    apart = abs(now[0] - before[0])
    error = math.hypot(before[1], now[1])
    # Of a constant no more than the rounding of a sum differs.
    same = math.isclose(now[0], before[0], rel_tol=1e-9, abs_tol=1e-12)
    errors = 0.0 if same else apart / error if error else math.inf
    return Difference(what, before[0], now[0], unit, errors)


def _in_words(one: Difference) -> str:
    if one.unit:
        values = (amount(float(shown(value, one.unit))) for value in (one.before, one.now))
        unit = f" {label(one.unit)}"
    else:
        values, unit = (f"{100.0 * value:.1f}" for value in (one.before, one.now)), " %"
    before, now = values
    return (
        f"the largest difference, {one.errors:.1f} standard errors, is in the {one.what}, "
        f"{before} then and {now}{unit} now"
    )


def _reasons(before: FittedCampaign, now: FittedCampaign) -> Iterator[str]:
    """Say what was not the same, in sentences."""
    records = list(_changes(before.run, now.run, "input_sha256"))
    if records:
        yield f"The records have changed since: {'; '.join(records)}."
    versions = [
        f"{name} {then or 'none'}, now {there or 'none'}"
        for name, then, there in _pairs(before.run, now.run, "versions")
    ]
    if versions:
        yield f"Other versions: {'; '.join(versions)}."
    computers = [
        f"{name} {then}, now {there}"
        for name, then, there in _pairs(before.run, now.run, "computer")
        if then and there
    ]
    if computers:
        yield f"Another computer: {'; '.join(computers)}."
    attempts = [
        f"{name} {then}, now {there}"
        for name, then, there in _settings(before.run, now.run)
        if then != there
    ]
    if attempts:
        yield f"Other settings of the sampler: {'; '.join(attempts)}."
    if before.spec != now.spec:
        yield "The model is not the same: with other records it has other parts, or priors."
    if before.reweighted:
        yield (
            "The draws of the fit were reweighted by fishdown update; those made again were "
            "sampled anew."
        )


def _changes(before: Mapping[str, Any], now: Mapping[str, Any], what: str) -> Iterator[str]:
    for name, then, there in _pairs(before, now, what):
        yield f"{name} {'is new' if not then else 'is gone' if not there else 'is another'}"


def _pairs(
    before: Mapping[str, Any], now: Mapping[str, Any], what: str
) -> Iterator[tuple[str, Any, Any]]:
    """Yield the entries of a part of the records of two runs that are not the same."""
    one, other = (dict(run.get(what) or {}) for run in (before, now))
    for name in sorted({*one, *other}):
        if one.get(name) != other.get(name):
            yield name, one.get(name), other.get(name)


_SETTINGS = ("draws", "tune", "chains", "cores", "seed", "target_accept", "sampler")


def _settings(before: Mapping[str, Any], now: Mapping[str, Any]) -> Iterator[tuple[str, Any, Any]]:
    """Yield the settings of the last attempt, by which the draws were made, and their number."""
    one, other = (list(run.get("attempts") or [{}]) for run in (before, now))
    yield "attempts", len(one), len(other)
    for name in _SETTINGS:
        yield name, one[-1].get(name), other[-1].get(name)
