"""What a study of so many simulations can notice, and how many it takes to call a model calibrated.

An empirical distribution of few places stays inside its band whatever the model is like. So a study
that finds nothing says what it would have found: the smallest bias, and the smallest excess of
confidence, that this very test notices in four of five studies. Both are those of a normal
posterior: if its mean is δ of its standard deviations too high and that standard deviation is c
times the right one, the truth falls at most at place u with Φ(δ + c Φ⁻¹(u)). The power of the band
[1]_ follows from its exact coverage.

References
----------
.. [1] Säilynoja, Bürkner & Vehtari 2022. Graphical test for discrete uniformity and its
   applications in goodness-of-fit evaluation and multiple sample comparison. Statistics and
   Computing 32:32. doi:10.1007/s11222-022-10090-6
.. [2] Cohen 1988. Statistical Power Analysis for the Behavioral Sciences, 2nd edition (a power of
   80 % as the customary aim; from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy import stats

from fishdown.checks.uniform import power
from fishdown.intervals import TAILS

if TYPE_CHECKING:
    from collections.abc import Callable

    from fishdown.typing import FloatArray

# How often a fault must be noticed to count as one that a study can notice [2].
NOTICED = 0.8
# A study that would miss these tells nothing (our judgement, no source): estimates off by half a
# posterior standard deviation, and intervals a third too narrow, so that those of 90 % hold 73 %.
BIAS = 0.5
NARROWER = 1.0 / 3.0
# Faults that are looked for: up to five standard deviations, and to a hundredth of the width.
LARGEST_BIAS = 5.0
LARGEST_NARROWER = 0.99
STEP, MOST = 10, 2_000


@dataclass(frozen=True)
class Detectable:
    """The smallest faults of one quantity that a study notices with `NOTICED`.

    Attributes
    ----------
    bias : float or None
        Posterior standard deviations that the estimate is off; None where even `LARGEST_BIAS`
        would be missed.
    narrower : float or None
        How much too narrow intervals are, as a share of the right width; None where even
        `LARGEST_NARROWER` would be missed.
    """

    bias: float | None
    narrower: float | None

    @property
    def enough(self) -> bool:
        """Whether `BIAS` and `NARROWER` would both have been noticed."""
        return (
            self.bias is not None
            and self.narrower is not None
            and self.bias <= BIAS
            and self.narrower <= NARROWER
        )

    def sentence(self) -> str:
        """Say what would have been noticed."""
        chance = f"With a probability of {100 * NOTICED:.0f} %"
        if self.bias is None:
            return f"{chance}, so many simulations detect no fault of a single quantity."
        narrow = (
            "but not intervals that are too narrow, however narrow"
            if self.narrower is None
            else f"and intervals {100 * self.narrower:.0f} % too narrow or more (90 % intervals "
            f"then hold the truth in {100 * held(self.narrower):.0f} % of simulations)"
        )
        return (
            f"{chance}, so many simulations detect in any single quantity estimates off by "
            f"{self.bias:.2g} posterior standard deviations or more, {narrow}."
        )


def detectable(simulations: int, band: float) -> Detectable:
    """Return the smallest faults that so many simulations notice.

    Parameters
    ----------
    simulations : int
    band : float
        Probability of a sound quantity to stay inside its band.
    """
    if simulations < 1:
        return Detectable(None, None)
    return Detectable(
        _smallest(simulations, band, lambda bias: place_distribution(bias, 1.0), LARGEST_BIAS),
        _smallest(
            simulations,
            band,
            lambda narrower: place_distribution(0.0, 1.0 - narrower),
            LARGEST_NARROWER,
        ),
    )


def simulations_needed(band: float) -> int:
    """Return the least number of simulations, in steps of `STEP`, that notice both faults."""
    for simulations in range(STEP, MOST, STEP):
        if all(
            power(simulations, band, fault) >= NOTICED
            for fault in (place_distribution(BIAS, 1.0), place_distribution(0.0, 1.0 - NARROWER))
        ):
            return simulations
    return MOST


def place_distribution(bias: float, width: float) -> Callable[[FloatArray], FloatArray]:
    """Return the distribution function of the truth's place among draws of a wrong posterior.

    Parameters
    ----------
    bias : float
        Of its mean, in its right standard deviations.
    width : float
        Its standard deviation over the right one.
    """

    def at_most(place: FloatArray) -> FloatArray:
        share: FloatArray = stats.norm.cdf(bias + width * stats.norm.ppf(place))
        return share

    return at_most


def held(narrower: float) -> float:
    """Return how often a 90 % interval holds the truth that is so much too narrow."""
    low, high = place_distribution(0.0, 1.0 - narrower)(np.array(TAILS))
    return float(high - low)


def _smallest(
    simulations: int,
    band: float,
    fault: Callable[[float], Callable[[FloatArray], FloatArray]],
    largest: float,
) -> float | None:
    """Bisect for the fault that is noticed with `NOTICED`."""
    if power(simulations, band, fault(largest)) < NOTICED:
        return None
    missed, noticed = 0.0, largest
    for _ in range(20):
        middle = 0.5 * (missed + noticed)
        if power(simulations, band, fault(middle)) >= NOTICED:
            noticed = middle
        else:
            missed = middle
    return noticed
