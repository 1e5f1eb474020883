"""From the end of one season to the start of the next: survival, recruitment, exchange.

`models/README.md`, section "Years", has the derivation. NumPy and PyTensor share the formulas.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from fishdown.models.array_library import NUMPY

# How smoothly an expected number is kept above 0, as a share of its usual size.
_SMOOTH = 0.1


def survival_of_winter(survival: Any, winter_spread: Any, luck: Any, *, xp: Any = NUMPY) -> Any:
    """Return the share of fish, marked or not, that survive one winter of one lake.

    Parameters
    ----------
    survival : array or tensor
        Natural survival of the lake in a median winter, between 0 and 1.
    winter_spread : array or tensor
        Standard deviation of its logit between winters.
    luck : array or tensor
        Of the winter, standard normal.
    xp : module
        The array library in use.
    """
    return xp.sigmoid(xp.log(survival) - xp.log1p(-survival) + winter_spread * luck)


def after_movements(fish: Any, winters: Any, season: Any, *, xp: Any = NUMPY) -> tuple[Any, Any]:
    """Return the fish before a winter's natural deaths, and the variance from what was estimated.

    Parameters
    ----------
    fish : array or tensor
        Fish before the first pull of the season before the winter.
    winters : Winters
    season : int or array of int
        Position of that season.
    xp : module
        The array library in use.
    """
    there = xp.maximum(fish - winters.gone[season] - winters.moved_after[season], 0.0)
    alive = 1.0 - winters.winterkill[season]
    variance = winters.moved_variance[season] * alive**2
    return there * alive, variance + there**2 * winters.winterkill_variance[season]


def replaced(survival: Any, level: Any) -> Any:
    """Return the recruits a year, fish, that make up for the natural deaths at the lake's level.

    Parameters
    ----------
    survival : array or tensor
        Natural survival of the lake in a median winter.
    level : array or tensor
        Fish of the lake's own level: those before its first netting on record.
    """
    return (1.0 - survival) * level


@dataclass(frozen=True, eq=False)
class Transition:
    """What is expected of the fish at the start of a season, and how far they stray from it.

    Attributes
    ----------
    left : array or tensor
        Fish at the end of the season before.
    survival : array or tensor
        Share of the fish that survive this winter, as `survival_of_winter` has it.
    recruits : array or tensor
        Recruits of an average year, fish.
    recruit_variation : array or tensor
        Coefficient of variation of a year's recruits.
    exchanged : array or tensor
        Share of the fish exchanged with connected waters in a year.
    outside : array or tensor
        Fish in the lake at the density of those waters.
    process_error : array or tensor
        Standard deviation of the logarithm of all that the rest leaves out: fish that move unseen,
        die within the season, or are taken by others.
    left_variance : array or tensor
        Variance of `left`, from movements that were estimated.
    xp : module
        The array library in use.
    """

    left: Any
    survival: Any
    recruits: Any
    recruit_variation: Any
    exchanged: Any = 0.0
    outside: Any = 0.0
    process_error: Any = 0.0
    left_variance: Any = 0.0
    xp: Any = NUMPY

    @property
    def expected(self) -> Any:
        """Expected fish at the start of the season."""
        moved = (1.0 - self.exchanged) * self.left + self.exchanged * self.outside
        return self.survival * moved + self.recruits

    @property
    def spread(self) -> Any:
        """Standard deviation of the logarithm of the fish.

        Of the log-normal variable with the mean and variance of binomial survivors, Poisson
        immigrants and recruits that vary from year to year (Fenton 1960), times the process error.
        """
        by_chance = self.xp.log1p(self._variance / self.expected**2)
        return self.xp.sqrt(by_chance + self.process_error**2)

    @property
    def centre(self) -> Any:
        """Mean of the logarithm of the fish."""
        return self.xp.log(self.expected) - 0.5 * self.spread**2

    def share_of_recruits(self, fish: Any) -> Any:
        """Return the share of recruits to be expected among the fish of a season.

        By linear regression of recruits on fish, both kept above 0: a year with more fish than
        expected is one with more recruits, as far as these vary more than the survivors do.
        """
        excess = self._part * (fish - self.expected)
        young = _above_zero(self.recruits + excess, self.recruits, self.xp)
        old = self.expected - self.recruits
        stayed = _above_zero(fish - self.recruits - excess, old, self.xp)
        return young / (young + stayed)

    @property
    def _variance_of_recruits(self) -> Any:
        return self.recruits + (self.recruit_variation * self.recruits) ** 2

    @property
    def _variance(self) -> Any:
        stays = self.survival * (1.0 - self.exchanged)
        survivors = self.left * stays * (1.0 - stays) + stays**2 * self.left_variance
        immigrants = self.survival * self.exchanged * self.outside
        return survivors + immigrants + self._variance_of_recruits

    @property
    def _part(self) -> Any:
        all_of_it = self.expected**2 * self.xp.expm1(self.spread**2)
        return self._variance_of_recruits / all_of_it


def _above_zero(value: Any, usual: Any, xp: Any) -> Any:
    return 0.5 * (value + xp.sqrt(value**2 + (_SMOOTH * usual) ** 2))
