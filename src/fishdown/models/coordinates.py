"""Sampler coordinates: transformations of the model's quantities.

Each class is one transformation: `walked` maps the model's quantity to the sampler's coordinate,
`reached` maps back, and `log_slope` is the logarithm of the Jacobian, the quantity's derivative by
the coordinate, by which its density is multiplied. All serve NumPy and PyTensor alike.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from fishdown.models.array_library import NUMPY
from fishdown.models.whole_numbers import HALF_FISH, at_least_one


@dataclass(frozen=True, eq=False)
class RoomAboveBound:
    """Unmarked fish above the fewest that the records allow, on the log scale.

    The bound holds by construction. Recaptures inform the fish per mark that counts, so the number
    above the bound is taken relative to the share of marks that counts.

    Attributes
    ----------
    bound : array or tensor, shape (season,)
        Fewest unmarked fish that the records allow.
    mean_share : array or tensor, shape (season,)
        Share of each season's marks that counts.
    xp : module
        The array library in use.
    """

    bound: Any
    mean_share: Any
    xp: Any = NUMPY

    def walked(self, unmarked: Any) -> Any:
        """Return the log of the unmarked fish above the bound (`log_room`)."""
        return self.xp.log(unmarked - self.bound + HALF_FISH) - self.xp.log(self.mean_share)

    def reached(self, log_room: Any) -> Any:
        """Return unmarked fish."""
        return self.bound - HALF_FISH + self.xp.exp(log_room) * self.mean_share

    def log_slope(self, log_room: Any) -> Any:
        """Return ln of d(unmarked fish)/d(log_room)."""
        return log_room + self.xp.log(self.mean_share)


def share_ends(marks: Any, smallest_share: Any) -> tuple[Any, Any]:
    """Return the limits of the share of a release group's marks that counts.

    Half a fish below the number recaptured, and half a fish above all marks: on the continuous
    scale a whole number stands for the interval of half a fish to either side.

    Parameters
    ----------
    marks : array or tensor, shape (release_group,)
        Marks, in fish.
    smallest_share : array or tensor, shape (release_group,)
        Smallest share that the recaptures allow.
    """
    # A release group without marks has no share; any finite limit will do.
    half = HALF_FISH / (marks + 1.0 - at_least_one(marks))
    return smallest_share - half, 1.0 + half


@dataclass(frozen=True, eq=False)
class ShareThatCounts:
    """The share of a release group's marks that counts, on a nearly standard normal scale.

    The distance of the share from 1, and its spread, change by orders of magnitude with the
    probability that a mark counts; the coordinate removes that dependence. With W the most marks
    that can be lost, x marks lost are measured by y = −(W + 1) ln(1 − (x + ½) / (W + 1)), which is
    near x + ½ and unbounded above, and y = d ln(1 + exp(c − step)).

    Attributes
    ----------
    marks : array or tensor, shape (release_group,)
        Marks, in fish.
    smallest_share : array or tensor, shape (release_group,)
        Smallest share that the recaptures allow.
    chance : array or tensor, shape (release_group,)
        Probability that a mark counts.
    xp : module
        The array library in use.
    """

    marks: Any
    smallest_share: Any
    chance: Any
    xp: Any = NUMPY

    def walked(self, share: Any) -> Any:
        """Return the step of a share."""
        xp = self.xp
        lower, upper = share_ends(self.marks, self.smallest_share)
        room, centre, spread = self._scale
        way = -room * xp.log((share - lower) / (upper - lower)) / spread
        return centre - (way + xp.log(-xp.expm1(-way)))

    def reached(self, step: Any) -> Any:
        """Return the share of a step."""
        lower, upper = share_ends(self.marks, self.smallest_share)
        return lower + (upper - lower) * self.xp.exp(-self._way(step))

    def log_slope(self, step: Any) -> Any:
        """Return ln of |d(share)/d(step)|."""
        lower, upper = share_ends(self.marks, self.smallest_share)
        room, centre, spread = self._scale
        slope = self.xp.log((upper - lower) * spread / room)
        return slope - self._way(step) - self.xp.softplus(step - centre)

    @property
    def _scale(self) -> tuple[Any, Any, Any]:
        """W + 1 and d, in fish, with c between them."""
        lower, upper = share_ends(self.marks, self.smallest_share)
        room = (self.marks + 1.0 - at_least_one(self.marks)) * (upper - lower)
        lost = self.marks * (1.0 - self.chance)
        # The expected loss may exceed the possible loss; then nearly all of that is lost.
        left = room - lost - HALF_FISH
        left = (left + (left**2 + 4.0 * (lost + 1.0)) ** 0.5) / 2.0
        part_left = left / (left + lost + HALF_FISH)
        spread = (lost + 1.0) ** 0.5 / part_left
        return room, -room * self.xp.log(part_left) / spread, spread

    def _way(self, step: Any) -> Any:
        room, centre, spread = self._scale
        return spread * self.xp.softplus(centre - step) / room


@dataclass(frozen=True, eq=False)
class MarksThatLasted:
    """The marks at large after a winter, by their distance from the expected number.

    The probability, common to all winters, would otherwise be strongly correlated with all these
    numbers at once.

    Attributes
    ----------
    needed, left : array or tensor, shape (winter,)
        Fewest marks that later recaptures allow, and marks at the end of the season before, fish.
    chance : array or tensor, shape (winter,)
        Probability that a mark is still at large.
    xp : module
        The array library in use.
    """

    needed: Any
    left: Any
    chance: Any
    xp: Any = NUMPY

    def walked(self, lasted: Any) -> Any:
        """Return the step of a number of marks."""
        part = (lasted - self.needed + HALF_FISH) / self._room
        return (self._logit(part) - self._logit(self.chance)) / self._scale

    def reached(self, step: Any) -> Any:
        """Return the marks still at large, fish."""
        return self.needed - HALF_FISH + self._room * self._part(step)

    def log_slope(self, step: Any) -> Any:
        """Return ln of d(marks)/d(step)."""
        part = self._part(step)
        return self.xp.log(self._room * self._scale) + self.xp.log(part) + self.xp.log1p(-part)

    @property
    def _room(self) -> Any:
        return self.left - self.needed + 2.0 * HALF_FISH

    @property
    def _scale(self) -> Any:
        return 1.0 / self.xp.sqrt(1.0 + self._room * self.chance * (1.0 - self.chance))

    def _part(self, step: Any) -> Any:
        return self.xp.sigmoid(self._logit(self.chance) + self._scale * step)

    def _logit(self, share: Any) -> Any:
        return self.xp.log(share) - self.xp.log1p(-share)


@dataclass(frozen=True, eq=False)
class TypicalCatch:
    """A lake's hazard by the typical catch of its pulls, both on the log scale.

    Catches determine the typical catch well, and abundance and catchability only along a ridge;
    this aligns the ridge with an axis. Given abundance the two scales differ by a constant, so
    the Jacobian is 1.

    Attributes
    ----------
    log_fish : array or tensor, shape (lake,)
        ln of the mean vulnerable fish over a lake's pulls.
    mean_effect : array or tensor, shape (lake,)
        Mean of what is added to the log-hazard of its pulls.
    """

    log_fish: Any
    mean_effect: Any

    def walked(self, log_hazard: Any) -> Any:
        """Return ln of the typical catch, from ln of the hazard before all effects."""
        return log_hazard + self.log_fish + self.mean_effect

    def reached(self, log_typical_catch: Any) -> Any:
        """Return ln of the hazard before all effects."""
        return log_typical_catch - self.log_fish - self.mean_effect


@dataclass(frozen=True, eq=False)
class AroundCentre:
    """Values about a centre: centred where there are data, non-centred elsewhere.

    A value with data is sampled itself, one without by its distance from the centre in units of
    the spread: each is then nearly independent of the spread.

    Attributes
    ----------
    centre, spread : array or tensor
    known : array or tensor of bool
        Which values have data.
    xp : module
        The array library in use.
    """

    centre: Any
    spread: Any
    known: Any
    xp: Any = NUMPY

    def walked(self, values: Any) -> Any:
        """Return the coordinates of values."""
        return self.xp.where(self.known, values, (values - self.centre) / self.spread)

    def reached(self, walked: Any) -> Any:
        """Return values from their coordinates."""
        return self.xp.where(self.known, walked, self.centre + self.spread * walked)
