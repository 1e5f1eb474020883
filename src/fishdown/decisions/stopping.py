"""When to stop: the expected loss of ending after each further pull; `models/README.md`, "Ahead".

The least expected loss is the Bayes decision (DeGroot 1970, Optimal Statistical Decisions;
reference from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fishdown.equality import by_value

if TYPE_CHECKING:
    from fishdown.typing import FloatArray

# Monte-Carlo errors of a difference below which two numbers of pulls are called alike.
ALIKE = 2.0


@by_value
@dataclass(frozen=True)
class Losses:
    """What ending after 0, 1, 2, … further pulls is expected to cost.

    Attributes
    ----------
    mean, error : ndarray, shape (pull + 1,)
        Expected loss and its Monte-Carlo standard error, in the user's currency.
    best : int
        Number of pulls of the least expected loss.
    alike : tuple of int
        Numbers of pulls that the draws do not distinguish from the best, itself among them.
    """

    mean: FloatArray
    error: FloatArray
    best: int
    alike: tuple[int, ...]


def losses(
    cost: FloatArray,
    above: FloatArray,
    taken_kg: FloatArray,
    *,
    cost_above: float,
    value_per_kg: float,
) -> Losses:
    """Weigh further pulls against what they bring.

    Parameters
    ----------
    cost : ndarray, shape (pull + 1,)
        Of all pulls so far; 0 at first.
    above : ndarray, shape (chain, draw, pull + 1)
        Probability (0 or 1) of not being below the threshold after each pull.
    taken_kg : ndarray, shape (chain, draw, pull + 1)
        Taken out by all pulls so far, kg.
    cost_above : float
        Of ending above the threshold.
    value_per_kg : float
        Of a kg of fish removed.
    """
    size = above.shape[0] * above.shape[1]
    # Half a draw towards the middle, as for every probability: never sure of either side.
    chance = (size * above + 0.5) / (size + 1.0)
    loss = cost + cost_above * chance - value_per_kg * taken_kg
    mean = loss.mean(axis=(0, 1))
    best = int(np.argmin(mean))
    behind = loss - loss[:, :, [best]]
    apart = behind.mean(axis=(0, 1)) > ALIKE * mean_errors(behind)
    alike = tuple(int(pull) for pull in np.flatnonzero(~apart))
    # Where all draws lie on one side they alone would call the probability sure.
    probability = chance.mean(axis=(0, 1))
    least = cost_above * np.sqrt(probability * (1.0 - probability) / size)
    return Losses(mean, np.maximum(mean_errors(loss), least), best, alike)


def break_even_pull(expected_kg: FloatArray, cost_per_pull: float, value_per_kg: float) -> int:
    """Return how many pulls to make before one is expected to bring less than it costs.

    Parameters
    ----------
    expected_kg : ndarray, shape (pull,)
        Expected catch of each pull to come, kg.
    cost_per_pull, value_per_kg : float
        In one currency; the break-even catch is their ratio.

    Returns
    -------
    int
        As many as there are pulls when none falls below break-even.
    """
    poor = np.flatnonzero(expected_kg * value_per_kg < cost_per_pull)
    return int(poor[0]) if len(poor) else len(expected_kg)


def mean_errors(draws: FloatArray) -> FloatArray:
    """Return the Monte-Carlo standard error of means over (chain, draw), shape (pull + 1,)."""
    from arviz_stats.base import array_stats

    errors = np.zeros(draws.shape[2])
    for place in range(draws.shape[2]):
        one = draws[:, :, place]
        # Constant to rounding: nothing is uncertain about it.
        if np.ptp(one) > 1e-9 * (1.0 + np.abs(one).max()):
            effective = float(array_stats.ess(one, method="mean"))
            errors[place] = one.std(ddof=1) / np.sqrt(effective)
    return errors
