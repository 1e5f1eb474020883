"""The pulls to come in one lake, draw by draw: biomass, probability, cost, loss."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np

from fishdown.decisions.stopping import Losses, break_even_pull, losses, mean_errors
from fishdown.equality import by_value
from fishdown.statements.probability import probability_below

if TYPE_CHECKING:
    from fishdown.decisions.schedule import Schedule
    from fishdown.typing import FloatArray
    from fishdown.units import System

# Normal quantile of the 90 % interval, for the range that Monte-Carlo error leaves.
ERRORS = 1.645


@dataclass(frozen=True)
class Terms:
    """Costs and value of pulls, all in one currency; None where not given.

    Attributes
    ----------
    currency : str
        Empty if it has no name.
    per_pull, per_field_day : float or None
    above : float or None
        Cost of ending above the threshold.
    value_per_kg : float or None
        Of a kg of fish removed.
    """

    currency: str = ""
    per_pull: float | None = None
    per_field_day: float | None = None
    above: float | None = None
    value_per_kg: float | None = None


@by_value
@dataclass(frozen=True)
class LakeAhead:
    """The pulls to come in one lake.

    Attributes
    ----------
    lake, season : str
        The season that is continued, by its label within the lake.
    schedule : Schedule
    terms : Terms
    threshold : float
        kg/ha.
    coldest : float
        Coldest reading at the lake's pulls, °C; NaN without any, or without an effect of cold.
    later_year : bool
        Whether some pulls lie in a later year than the records.
    failure : str
        Why all of this must be withheld; empty when it need not be.
    shown : bool
        Whether it is told: the gate was passed, or overruled.
    temperature, catch, mean_catch : ndarray, shape (chain, draw, pull)
        °C, fish, and the fish that each draw expects.
    fish : ndarray, shape (chain, draw, pull + 1)
        Fish in the lake, now and after each pull.
    weight : ndarray, shape (chain, draw, pull + 1), or None
        Mean weight of the fish in the lake, now and after each pull, kg; None where nothing tells
        it.
    kg, mean_kg : ndarray, shape (chain, draw, pull), or None
        What `catch` and `mean_catch` weigh.
    area : float
        ha.
    at_area : str
        The same in words with its day, if it is not the lake's usual area; else empty.
    units : {"metric", "us"}
        Of sentences, tables and files; all numbers here are metric.
    """

    lake: str
    season: str
    schedule: Schedule
    terms: Terms
    threshold: float
    coldest: float
    later_year: bool
    failure: str
    shown: bool
    temperature: FloatArray
    catch: FloatArray
    mean_catch: FloatArray
    fish: FloatArray
    weight: FloatArray | None
    kg: FloatArray | None
    mean_kg: FloatArray | None
    area: float
    at_area: str = ""
    units: System = "metric"

    @property
    def pulls(self) -> int:
        """How many pulls are to come."""
        return len(self.schedule.net)

    @cached_property
    def colder(self) -> np.ndarray[Any, np.dtype[np.bool_]]:
        """Whether each pull is more likely than not in water colder than any reading."""
        median: FloatArray = np.median(self.temperature, axis=(0, 1))
        return median < self.coldest

    @cached_property
    def biomass(self) -> FloatArray | None:
        """Density now and after each pull, kg/ha, shape (chain, draw, pull + 1)."""
        return None if self.weight is None else self.fish * self.weight / self.area

    @cached_property
    def below(self) -> FloatArray | None:
        """Probability of being below the threshold and its error, shape (2, pull + 1)."""
        if self.biomass is None:
            return None
        found = [
            probability_below(self.biomass[:, :, pull], self.threshold)
            for pull in range(self.pulls + 1)
        ]
        return np.array(found).T

    @cached_property
    def cost(self) -> FloatArray | None:
        """Cost of all pulls so far, shape (pull + 1,); None if none is given."""
        terms = self.terms
        if terms.per_pull is None and terms.per_field_day is None:
            return None
        days = np.concatenate([[0], self.schedule.field_days])
        return np.arange(self.pulls + 1) * (terms.per_pull or 0.0) + days * (
            terms.per_field_day or 0.0
        )

    @cached_property
    def expected_kg(self) -> FloatArray | None:
        """Expected catch of each pull and its Monte-Carlo error, kg, shape (2, pull)."""
        if self.mean_kg is None:
            return None
        return np.stack([self.mean_kg.mean(axis=(0, 1)), mean_errors(self.mean_kg)])

    @cached_property
    def losses(self) -> Losses | None:
        """Expected loss of ending after each pull; None without a cost and something to gain."""
        terms = self.terms
        gains = terms.above is not None or terms.value_per_kg is not None
        if self.biomass is None or self.cost is None or self.kg is None or not gains:
            return None
        taken = np.concatenate([0.0 * self.kg[:, :, :1], np.cumsum(self.kg, axis=2)], axis=2)
        return losses(
            self.cost,
            (self.biomass >= self.threshold).astype(float),
            taken,
            cost_above=terms.above or 0.0,
            value_per_kg=terms.value_per_kg or 0.0,
        )

    @property
    def break_even(self) -> tuple[float, int] | None:
        """Break-even catch (kg a pull), and pulls before one is expected to fall below it."""
        terms = self.terms
        if not terms.per_pull or not terms.value_per_kg or self.expected_kg is None:
            return None
        least = terms.per_pull / terms.value_per_kg
        return least, break_even_pull(self.expected_kg[0], terms.per_pull, terms.value_per_kg)

    def needed(self, wanted: float) -> tuple[int | None, int | None, int | None]:
        """Return the pulls needed for a probability, and their range by Monte-Carlo error.

        Returns
        -------
        pulls, low, high : int or None
            None where the pulls to come are not enough.
        """
        if self.below is None:
            return None, None, None
        probability, error = self.below
        pulls, low, high = (
            _first(probability + shift * error >= wanted) for shift in (0.0, ERRORS, -ERRORS)
        )
        return pulls, low, high


def _first(enough: np.ndarray[Any, np.dtype[np.bool_]]) -> int | None:
    found = np.flatnonzero(enough)
    return int(found[0]) if len(found) else None
