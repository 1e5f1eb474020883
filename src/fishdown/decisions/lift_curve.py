"""How presence at the nets follows the time of day: a regression with nights as blocks.

The number of tagged fish at a net is Poisson in its mean only: its logarithm is a level for each
net, a smooth curve of the time of day, and effects of temperature and bait. The curve is a
Gaussian process on a circle of 24 hours by its cosines and sines (as `drift` on a circle of days;
Riutort-Mayol et al. 2023, Stat. Comput. 33:17, without boundary). The estimate maximises
quasi-likelihood and prior (McCullagh and Nelder 1989). Fish stay for hours and good nights are
good from dusk to dawn, so that the counts of a night are no independent ones: uncertainty is that
of whole nights, by leaving out each in turn (jackknife; its variance is conservative, Efron and
Stein 1981, Ann. Stat. 9:586–596), with the t distribution of nights less one.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fishdown.decisions.lift_presence import SLOTS
from fishdown.equality import by_value

if TYPE_CHECKING:
    from fishdown.decisions.lift_presence import Presence
    from fishdown.typing import FloatArray, IntArray

WAVES = 8
# Prior of the curve: presence changes over hours, from hardly a fish by day to many by night (our
# judgement, no source).
_HOURS, _CURVE_SD = 2.0, 2.0
_LEVEL_SD = 3.0
# Logarithms: 5 °C, or e times the days of bait, double presence or halve it within one standard
# deviation (our judgement, no source).
_EFFECT_SD = 0.7
# Fewer nights, or readings closer together, tell no effect (our judgement, no source).
_FEWEST_NIGHTS, _LEAST_DEGREES, _FEWEST_BAIT_DAYS = 8, 3.0, 3
DEGREES = 5.0
_STEPS = 30


@by_value
@dataclass(frozen=True)
class Curve:
    """Draws of the expected number of tagged fish at each net by time of day.

    Attributes
    ----------
    expected : ndarray, shape (net, slot)
        Best estimate, tagged fish, on a night of average temperature and bait with as many tags
        at large as on the last.
    drawn : ndarray, shape (draw, net, slot)
    effects : dict of str to ndarray, shape (draw,)
        Factors of presence: of "cooling" by 5 °C, and of "bait", four days against one.
    """

    expected: FloatArray
    drawn: FloatArray
    effects: dict[str, FloatArray]


def waves() -> tuple[FloatArray, FloatArray]:
    """Return cosines and sines of the time of day, (slot, wave), and their prior deviations."""
    frequency = 2.0 * np.pi * np.arange(1, WAVES + 1) / 24.0
    hours = np.arange(SLOTS) * 24.0 / SLOTS
    angle = hours[:, None] * frequency
    density = (
        _CURVE_SD**2 * np.sqrt(2.0 * np.pi) * _HOURS * np.exp(-0.5 * (frequency * _HOURS) ** 2)
    )
    sd = np.sqrt(2.0 * density / 24.0)
    return np.concatenate([np.cos(angle), np.sin(angle)], axis=1), np.tile(sd, 2)


def fit_curve(seen: Presence, draws: int, rng: np.random.Generator) -> Curve:
    """Estimate the curve of a lake.

    Parameters
    ----------
    seen : Presence
        Of three nights or more.
    draws : int
    """
    basis, basis_sd = waves()
    names, columns = _covariates(seen)
    nets = len(seen.nets)
    design = _Design(seen, basis, columns, np.concatenate(
        [np.full(nets, _LEVEL_SD), basis_sd, np.full(len(names), _EFFECT_SD)]
    ))  # fmt: skip
    best = design.solve(np.ones(len(seen.net)), design.start, _STEPS)
    # Counts vary more than Poisson ones; the prior counts against so much less data.
    design.dispersion = design.spread(best)
    best = design.solve(np.ones(len(seen.net)), best, _STEPS)
    nights = np.unique(seen.night)
    without = np.array(
        [design.solve((seen.night != night).astype(float), best, 4) for night in nights]
    )
    count = len(nights)
    apart = np.sqrt((count - 1.0) / count) * (without - without.mean(axis=0))
    steps = rng.normal(size=(draws, count)) @ apart
    freedom = count - 1.0
    drawn = best + steps * np.sqrt(freedom / rng.chisquare(freedom, size=draws))[:, None]
    tags = float(seen.at_large[np.argmax(seen.night)])
    levels, curve = slice(0, nets), slice(nets, nets + 2 * WAVES)

    def of_net(values: FloatArray) -> FloatArray:
        log = values[..., levels, None] + (values[..., curve] @ basis.T)[..., None, :]
        return tags * np.exp(log)

    effects = {}
    for place, name in enumerate(names):
        slope = drawn[:, nets + 2 * WAVES + place]
        effects[name] = np.exp(-slope if name == "cooling" else slope * np.log(5.0 / 2.0))
    return Curve(of_net(best), of_net(drawn), effects)


def _covariates(seen: Presence) -> tuple[list[str], FloatArray]:
    """Return what tells of temperature and bait, centred, (occasion, covariate)."""
    names: list[str] = []
    columns: list[FloatArray] = []
    enough = {
        "cooling": np.ptp(_known(seen.temperature)) >= _LEAST_DEGREES,
        "bait": len(np.unique(_known(seen.bait_days))) >= _FEWEST_BAIT_DAYS,
    }
    scaled = {"cooling": seen.temperature / DEGREES, "bait": np.log1p(seen.bait_days)}
    for name, values in scaled.items():
        there = ~np.isnan(values)
        if enough[name] and len(np.unique(seen.night[there])) >= _FEWEST_NIGHTS:
            names.append(name)
            columns.append(np.where(there, values - values[there].mean(), 0.0))
    return names, np.array(columns).reshape(len(columns), len(seen.net)).T


def _known(values: FloatArray) -> FloatArray:
    known: FloatArray = values[~np.isnan(values)]
    return known if len(known) else np.zeros(1)


class _Design:
    """The regression of one lake: everything but the weights of its occasions."""

    def __init__(
        self, seen: Presence, basis: FloatArray, covariates: FloatArray, prior_sd: FloatArray
    ) -> None:
        self.counts: FloatArray = np.where(seen.listening, seen.counts, 0.0)
        self.exposure: FloatArray = np.where(
            seen.listening, np.maximum(seen.at_large, 1.0)[:, None], 0.0
        )
        self.net: IntArray = seen.net
        self.nets = len(seen.nets)
        self.basis, self.covariates, self.prior_sd = basis, covariates, prior_sd
        self.dispersion = 1.0
        rate = max(self.counts.sum(), 1.0) / max(self.exposure.sum(), 1.0)
        self.level = np.log(rate)
        self.start = np.zeros(len(prior_sd))
        self.start[: self.nets] = self.level
        self.middle = self.start.copy()

    def mean(self, values: FloatArray) -> FloatArray:
        nets, ends = self.nets, self.nets + 2 * WAVES
        night = values[self.net] + self.covariates @ values[ends:]
        log = night[:, None] + self.basis @ values[nets:ends]
        return self.exposure * np.exp(np.clip(log, -50.0, 20.0))

    def spread(self, values: FloatArray) -> float:
        """Return Pearson's estimate of the variance beyond that of Poisson counts."""
        mean = self.mean(values)
        known = self.exposure > 0.0
        pearson = ((self.counts - mean)[known] ** 2 / np.maximum(mean[known], 1e-9)).sum()
        return max(1.0, float(pearson) / max(int(known.sum()) - len(values), 1))

    def solve(self, weight: FloatArray, start: FloatArray, steps: int) -> FloatArray:
        """Maximise quasi-likelihood and prior by Newton's steps, halved where they overshoot."""
        values = start
        for _ in range(steps):
            gradient, curvature = self._slopes(weight, values)
            step = np.linalg.solve(curvature, gradient)
            # No step goes further than a factor of e² at once.
            step *= min(1.0, 2.0 / max(float(np.abs(step).max()), 1e-12))
            values = values + step
            if float(np.abs(step).max()) < 1e-8:
                break
        return values

    def _slopes(self, weight: FloatArray, values: FloatArray) -> tuple[FloatArray, FloatArray]:
        mean = weight[:, None] * self.mean(values)
        rest = weight[:, None] * self.counts - mean
        nets = np.eye(self.nets)[self.net]
        sides = np.concatenate([nets, self.covariates], axis=1)
        # The design of an occasion and slot is the sides of the one beside the basis of the other.
        of_side, of_basis = sides.T @ rest.sum(axis=1), self.basis.T @ rest.sum(axis=0)
        side_side = sides.T @ (mean.sum(axis=1)[:, None] * sides)
        basis_basis = self.basis.T @ (mean.sum(axis=0)[:, None] * self.basis)
        side_basis = sides.T @ mean @ self.basis
        first = np.r_[0 : self.nets, len(values) - self.covariates.shape[1] : len(values)]
        second = np.arange(self.nets, self.nets + 2 * WAVES)
        gradient = np.empty(len(values))
        gradient[first], gradient[second] = of_side, of_basis
        curvature = np.empty((len(values), len(values)))
        curvature[np.ix_(first, first)] = side_side
        curvature[np.ix_(second, second)] = basis_basis
        curvature[np.ix_(first, second)] = side_basis
        curvature[np.ix_(second, first)] = side_basis.T
        gradient = gradient / self.dispersion - (values - self.middle) / self.prior_sd**2
        return gradient, curvature / self.dispersion + np.diag(self.prior_sd**-2.0)
