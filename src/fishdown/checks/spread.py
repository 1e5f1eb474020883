"""Spread of catches: randomised probability integral transform of each catch.

The share of replicated catches below the observed one, ties broken at random, is uniform on 0 to 1
under a correct model: too many values in the middle mean less variation than the model has, too
many at the ends mean more. (Randomised probability integral transform: Czado, Gneiting & Held
2009, Biometrics 65:1254–1261, citation from memory; band of Säilynoja et al. 2022, see `uniform`.)
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from fishdown.checks.codes import Found
from fishdown.checks.result import FALSE_ALARM, CheckResult, Outcome
from fishdown.checks.uniform import evenness
from fishdown.sentences import Said

if TYPE_CHECKING:
    from fishdown.posterior.at_draws import DrawnLakes
    from fishdown.typing import FloatArray, IntArray

NAME = "spread of catches"


def places_among(
    observed: FloatArray, drawn: IntArray | FloatArray, rng: np.random.Generator
) -> FloatArray:
    """Return the fractional rank of each observed number among drawn ones, ties at random.

    Parameters
    ----------
    observed : ndarray, shape (number,)
    drawn : ndarray, shape (draw, number)

    Returns
    -------
    ndarray, shape (number,)
        Between 0 and 1; uniform when observed and drawn numbers have one distribution.
    """
    less, ties = (drawn < observed).sum(axis=0), (drawn == observed).sum(axis=0)
    places: FloatArray = (less + rng.uniform(size=len(observed)) * (ties + 1)) / (len(drawn) + 1)
    return places


def spread_of_catches(lakes: DrawnLakes, drawn: IntArray, rng: np.random.Generator) -> CheckResult:
    """Compare the ranks of all catches among replicated ones with a uniform distribution.

    Passed while their distribution stays inside the simultaneous 99 % band. Too few
    to leave it have no pass mark.

    Parameters
    ----------
    drawn : ndarray of int, shape (draw, pull)
        From `replicates.catches_given_past`.
    """
    places = places_among(lakes.data.catches.caught, drawn, rng)
    even = evenness(places, 1.0 - FALSE_ALARM)
    table = pd.DataFrame(
        {"place": even.points, "share": even.found, "low": even.low, "high": even.high}
    )
    middle = int(((places > 0.25) & (places < 0.75)).sum())
    counts = {"middle": middle, "catches": len(places), "band": 100 * (1 - FALSE_ALARM)}
    outcome: Outcome
    if not even.tells:
        outcome, code = "for information", Found.TOO_FEW_FOR_SPREAD
    elif even.even:
        outcome, code = "passed", Found.SPREAD_INSIDE
    else:
        outcome, code = "not passed", _departure(places)

    def draw(axes: Any) -> None:
        axes.fill_between(
            even.points,
            even.low - even.points,
            even.high - even.points,
            alpha=0.25,
            label=f"simultaneous {100 * (1 - FALSE_ALARM):g} % band",
        )
        axes.step(
            even.points, even.found - even.points, where="post", color="black", label="catches"
        )
        low, high = axes.get_ylim()
        axes.set_ylim(low, high + 0.3 * (high - low))
        axes.legend(loc="upper left")
        axes.set(xlabel="rank of a catch in its prediction", ylabel="share of catches − rank")

    return CheckResult(NAME, outcome, table, Said(code, counts), draw)


def _departure(places: FloatArray) -> Found:
    # An even spread has mean ½ and variance 1/12.
    centre = (places.mean() - 0.5) * np.sqrt(12.0 * len(places))
    if abs(centre) > 3.0:
        return Found.CATCHES_LARGER if centre > 0 else Found.CATCHES_SMALLER
    return Found.CATCHES_VARY_MORE if places.var() > 1.0 / 12.0 else Found.CATCHES_VARY_LESS
