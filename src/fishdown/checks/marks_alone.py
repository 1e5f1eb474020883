"""What the marks of one season say by themselves, by quadrature: no sampling is needed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fishdown.models.ledger import counting_log_density

if TYPE_CHECKING:
    from fishdown.models.ledger import Ledger
    from fishdown.models.priors import Prior
    from fishdown.typing import FloatArray

POINTS = 4_000
# The grid ends where the prior has this much left; the marks have long decided by then.
PRIOR_TAIL = 1e-6


@dataclass(frozen=True)
class MarksAlone:
    """Posterior of abundance given the recaptures alone.

    Attributes
    ----------
    abundance : ndarray, shape (point,)
        Fish before the first pull, rising.
    cumulative : ndarray, shape (point,)
        Posterior probability of at most that many.
    """

    abundance: FloatArray
    cumulative: FloatArray

    def quantile(self, probability: FloatArray) -> FloatArray:
        """Return the abundances below which each probability lies."""
        values: FloatArray = np.interp(probability, self.cumulative, self.abundance)
        return values

    def at_most(self, abundance: FloatArray) -> FloatArray:
        """Return the posterior probability of at most these abundances."""
        values: FloatArray = np.interp(
            abundance, self.abundance, self.cumulative, left=0.0, right=1.0
        )
        return values


def marks_alone(ledger: Ledger, density: Prior, area: float) -> MarksAlone:
    """Integrate prior times hypergeometric likelihood over abundance.

    Parameters
    ----------
    ledger : Ledger
        Of the season, with ``evidence="marks"``.
    density : Prior
        Of fish per hectare.
    area : float
        ha.
    """
    marks = float(ledger.marks_at_start.sum())
    lower = ledger.bound + marks - 0.5
    largest = float(density.quantile(np.array([1.0 - PRIOR_TAIL]))[0]) * area
    step = np.linspace(np.log(1e-3), np.log(max(largest, 10.0 * lower + 100.0)), POINTS)
    room = np.exp(step)
    abundance = lower + room
    # All marks count here, so that each term holds the unmarked fish and nothing else.
    terms = counting_log_density(abundance[:, None] - marks, ledger.offsets, ledger.weights)
    # Even steps in the logarithm of the room: the room is their Jacobian.
    log_density = terms.sum(axis=1) + density.log_density(abundance / area) + step
    weight = np.exp(log_density - log_density.max())
    cumulative = np.cumsum(weight)
    return MarksAlone(abundance, cumulative / cumulative[-1])
