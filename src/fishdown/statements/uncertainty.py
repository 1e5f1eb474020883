"""Where the uncertainty about the fish left comes from, and what would change the verdict.

Marks, weights, and numbers counted are told apart on the logarithm of the biomass left. Its draws
are regressed on the logarithm of effective marks. The part of the variance on the line comes from
not knowing how much marks count; moving every draw along the line to one value of effective marks
is the posterior if that value were known. Both are exact where all is normal (regression
adjustment: Beaumont, Zhang and Balding 2002, Genetics 162:2025–2035; from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fishdown.checks.effective_marks_alone import prior_of_effective_marks
from fishdown.intervals import low_median_high
from fishdown.posterior.at_draws import rates_at_draws
from fishdown.statements.probability import probability_below, says
from fishdown.words import percent

if TYPE_CHECKING:
    from collections.abc import Callable

    from fishdown.posterior.fitted import FittedCampaign
    from fishdown.typing import FloatArray

# Effective marks a mark between which a change of the verdict is looked for.
FEWEST, MOST = 0.2, 5.0
_HALVINGS = 40
MARKS, WEIGHTS, COUNTS = "marks", "weights", "counts"
SOURCES = {MARKS: "how much marks count", WEIGHTS: "weights", COUNTS: "numbers caught"}
_MEASUREMENTS = {
    # Of what a mark counts for, the odds of marked fish to be caught by nets are least known, of
    # which pens and double marks tell nothing (`benchmarks/MESSY.md`).
    MARKS: "looking for marks among fish caught by another gear, in several runs",
    WEIGHTS: "weighing more fish, from several catches",
    COUNTS: "more catches examined for marks",
}


@dataclass(frozen=True)
class Uncertainty:
    """What the uncertainty about the biomass left in a season consists of.

    Attributes
    ----------
    shares : dict of str to float
        Of the variance of the logarithm of the biomass left: ``marks`` (how much they count),
        ``weights``, ``counts`` (fish caught and recaptured); they add up to 1.
    effective, effective_before : tuple of float
        Low, median and high of effective marks for each mark released, by all records and before
        any record; 90 % intervals.
    if_every_mark_counts : float
        Probability that the lake is below its threshold if each mark counted for one.
    flips_at : float
        Effective marks for each mark released at which the lake is as likely below its threshold as
        above; NaN if there is none between `FEWEST` and `MOST`.
    flips_if_more : bool
        Whether the verdict changes where marks count for more than that, not for less.
    flip_prior : float
        Prior probability of that; NaN likewise.
    after_looks : bool
        Whether the priors are those after fish were looked at twice for marks: before, nothing is
        known of how many are overlooked.
    """

    shares: dict[str, float]
    effective: tuple[float, float, float]
    effective_before: tuple[float, float, float]
    if_every_mark_counts: float
    flips_at: float
    flips_if_more: bool
    flip_prior: float
    after_looks: bool = False

    @property
    def next_measurement(self) -> str:
        """What would narrow the answer most: the largest of the shares."""
        return _MEASUREMENTS[max(self.shares, key=lambda source: self.shares[source])]

    def sentence(self) -> str:
        """State it, but for the shares."""
        low, median, high = self.effective
        least, _, most = self.effective_before
        counted = percent(self.if_every_mark_counts)
        return (
            f"A mark counts as {median:.2f} of one (90 % interval {low:.2f} to {high:.2f}; "
            f"{self._before} {least:.2f} to {most:.2f}). If every mark counted in full, the "
            f"probability would be {counted}. {self._flip()} What would narrow the answer most: "
            f"{self.next_measurement}."
        )

    def _flip(self) -> str:
        if np.isnan(self.flips_at):
            return (
                "No value that a mark could plausibly have would change on which side of the "
                "threshold the lake more likely is."
            )
        side, other = ("more", "above") if self.flips_if_more else ("less", "below")
        return (
            f"The lake would more likely be {other} the threshold if a mark counted as {side} "
            f"than {self.flips_at:.2f} of one (probability {self._before}: "
            f"{percent(self.flip_prior)})."
        )

    @property
    def _before(self) -> str:
        return "before any record" + (" but the second looks" if self.after_looks else "")


def uncertainty(fit: FittedCampaign, season: int) -> Uncertainty | None:
    """Take the uncertainty about the biomass left apart.

    Returns
    -------
    Uncertainty or None
        None without effective marks in the model, without biomass, or if no fish may be left.
    """
    if "effective_marks" not in fit.quantities or not says(fit, "biomass_after", season):
        return None
    drawn = fit.quantities.isel(season=season).transpose("chain", "draw")
    gone = float(fit.campaign.seasons["gone"].values[season])
    rates, spell = rates_at_draws(fit.tree["posterior"].dataset), fit.data.times.end.at(season)
    threshold = float(fit.campaign.lake_of(season)["threshold"])
    fish, number, left = (
        drawn[name].values for name in ("abundance_before", "abundance_after", "biomass_after")
    )
    if (number <= 0.0).mean() > 0.05:
        return None
    some = number > 0.0
    weight = np.where(some, left / np.where(some, number, 1.0), np.mean(left[some] / number[some]))
    ratio = np.log(drawn["effective_marks"].values)
    slope = _slope(ratio, np.log(fish))

    def if_counting(effective: float) -> FloatArray:
        moved = np.exp(np.log(fish) - slope * (ratio - np.log(effective)))
        after = rates.present(moved.reshape(-1, 1), gone, spell).reshape(weight.shape)
        biomass: FloatArray = np.maximum(after, 0.0) * weight
        return biomass

    def below(effective: float) -> bool:
        return bool(np.median(if_counting(effective)) < threshold)

    flips_at, if_more = _flip(below), bool(np.median(left) < threshold)
    data = fit.data
    kinds, waited = data.counts.kinds_at_large[season], data.times.marked_years[season]
    prior = prior_of_effective_marks(kinds, fit.spec, waited, data.second_looks)
    beyond = float(np.mean(prior > flips_at if if_more else prior < flips_at))
    return Uncertainty(
        shares=_shares(np.log(np.maximum(left, 1e-9))[some], ratio[some], np.log(weight)[some]),
        if_every_mark_counts=probability_below(if_counting(1.0), threshold)[0],
        effective=_ends(np.exp(ratio)),
        effective_before=_ends(prior),
        flips_at=flips_at,
        flips_if_more=if_more,
        flip_prior=float("nan") if np.isnan(flips_at) else max(beyond, 0.5 / len(prior)),
        after_looks=data.second_looks is not None,
    )


def _ends(draws: FloatArray) -> tuple[float, float, float]:
    low, median, high = low_median_high(draws).tolist()
    return low, median, high


def _flip(below: Callable[[float], bool]) -> float:
    """Return where a lake is as likely below as above; NaN if nowhere."""
    # The more a mark counts, the more fish there are.
    if not below(FEWEST) or below(MOST):
        return float("nan")
    low, high = np.log(FEWEST), np.log(MOST)
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        if below(float(np.exp(middle))):
            low = middle
        else:
            high = middle
    return float(np.exp(0.5 * (low + high)))


def _shares(left: FloatArray, marks: FloatArray, weight: FloatArray) -> dict[str, float]:
    """Split the variance of the logarithm of the biomass left between its sources."""
    total = left.var()
    of_weights = min(weight.var() / total, 1.0)
    numbers = left - weight
    on_line = _slope(marks, numbers) * marks
    of_marks = min(on_line.var() / total, 1.0 - of_weights)
    return {MARKS: of_marks, WEIGHTS: of_weights, COUNTS: 1.0 - of_marks - of_weights}


def _slope(x: FloatArray, y: FloatArray) -> float:
    variance = x.var()
    return float(np.mean((x - x.mean()) * (y - y.mean())) / variance) if variance else 0.0
