"""The fish in a lake in the course of a season, where some die and some immigrate."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from fishdown.models.array_library import NUMPY

if TYPE_CHECKING:
    from fishdown.models.parts.open_lake.times import Spell


# The parameters that are the rates, in the order of `OpenLake`.
RATES = ("natural_mortality", "immigration")


@dataclass(frozen=True)
class OpenLake:
    """The rates at which fish die and immigrate; None where the model has them not.

    Attributes
    ----------
    mortality : array or tensor or None
        m, natural mortality rate, a year.
    immigration : array or tensor or None
        a, fish that arrive in a year in connected lakes, relative to those before the first pull.
    """

    mortality: Any = None
    immigration: Any = None

    @property
    def closed(self) -> bool:
        """Whether fish neither die nor immigrate within a season."""
        return self.mortality is None and self.immigration is None

    def staying(self, years: Any, *, xp: Any = NUMPY) -> Any:
        """Return the share of the fish alive after some years, exp(−m t)."""
        return 1.0 if self.mortality is None else xp.exp(-self.mortality * years)

    def arrived(self, open_years: Any) -> Any:
        """Return the fish that arrived, a t, relative to those before the first pull."""
        return 0.0 if self.immigration is None else self.immigration * open_years

    def needed(self, gone: Any, end: Spell, *, xp: Any = NUMPY) -> Any:
        """Return by how much the fish before the first pull exceed those taken out at the least.

        G (exp(m u) − 1): of those that were taken out a time u after the first pull on average, so
        many more must have been there at first for them to be alive then.

        Parameters
        ----------
        gone : array or tensor, shape (season,)
            G, fish taken out in the season.
        end : Spell
            Of the last pull.
        xp : module
            The array library in use.
        """
        if self.mortality is None:
            return 0.0
        # Where more fish came than went there is no such limit.
        return xp.maximum(gone, 0.0) * (1.0 / self.staying(end.years - end.gone_years, xp=xp) - 1.0)

    def present(self, fish: Any, gone: Any, spell: Spell, *, xp: Any = NUMPY) -> Any:
        """Return the fish in the lake.

        N (exp(−m t) + a t) − G exp(−m v): those there before the first pull, less those that
        died, with those that arrived, less those taken out, of which some would have died since.

        Parameters
        ----------
        fish : array or tensor
            N, fish before the first pull.
        gone : array or tensor, broadcastable
            G, fish taken out since.
        spell : Spell
            t, and v since these went.
        xp : module
            The array library in use.
        """
        if self.closed:
            return fish - gone
        there = self.staying(spell.years, xp=xp) + self.arrived(spell.open_years)
        return fish * there - gone * self.staying(spell.gone_years, xp=xp)


def shortfall_log_density(caught: Any, present: Any, *, xp: Any = NUMPY) -> Any:
    """Return what a catch of more fish than are there costs, 0 where there are enough.

    A catch cannot exceed the fish. Those that die are taken at their mean, so that a catch may
    exceed what that leaves by a little: normal beyond half a fish, with a standard deviation of
    half a fish and a hundredth of the catch. Without it, deaths that leave too few fish would be
    free, and most of the posterior would lie where they do.

    Parameters
    ----------
    caught, present : array or tensor
        C, and fish before the pull.
    xp : module
        The array library in use.
    """
    short = xp.maximum(caught - 0.5 - present, 0.0)
    return -0.5 * (short / (0.5 + 0.01 * caught)) ** 2


def ways_correction(caught: Any, present: Any, closed: Any, *, xp: Any = NUMPY) -> Any:
    """Return ln C(present, C) − ln C(closed, C), of fish present and of a closed lake's.

    The counting terms have the binomial coefficients of a closed lake, which telescope.

    Parameters
    ----------
    caught : array or tensor
        C, fish.
    present, closed : array or tensor
        Fish before the pull, no fewer than C, and no fewer than C less half a fish.
    xp : module
        The array library in use.
    """

    def ways(fish: Any) -> Any:
        return xp.gammaln(fish + 1.0) - xp.gammaln(fish - caught + 1.0)

    return ways(present) - ways(closed)
