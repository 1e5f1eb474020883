"""Prior distributions as in a model file: a family and its two numbers.

>>> Prior.read("area_fished_ha", {"lognormal": {"median": 1.0, "log_sd": 1.2}}).interval()
(0.138..., 7.19...)
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Any

from fishdown.errors import ModelFileError
from fishdown.records.problems import nearest, shortened

if TYPE_CHECKING:
    from collections.abc import Iterable

    import numpy as np

    from fishdown.typing import FloatArray

# family → the names of its numbers, in order
FAMILIES: dict[str, tuple[str, ...]] = {
    "lognormal": ("median", "log_sd"),
    "normal": ("mean", "sd"),
    "beta": ("a", "b"),
    "logitnormal": ("median", "logit_sd"),
}
_POSITIVE = {"median", "log_sd", "logit_sd", "sd", "a", "b"}
# Beyond these nothing of a lake is known so well or so badly, and arithmetic would overflow: 90 %
# of a log-normal variable of log_sd 10 lies between a ten-millionth and ten million medians.
_LEAST = {"median": 1e-12, "mean": -1e12, "a": 1e-6, "b": 1e-6}
_LEAST |= dict.fromkeys(("log_sd", "logit_sd", "sd"), 1e-6)
_MOST = {"median": 1e12, "mean": 1e12, "sd": 1e12, "a": 1e6, "b": 1e6, "log_sd": 10, "logit_sd": 10}


@dataclass(frozen=True)
class Prior:
    """One prior distribution.

    Attributes
    ----------
    family : str
        `lognormal` (median, sd of the natural logarithm), `normal` (mean, sd), `beta` (a, b) or
        `logitnormal` (median, sd of the logit: for proportions that may be near 0 or 1).
    numbers : tuple of float
        In the order of `FAMILIES`.
    """

    family: str
    numbers: tuple[float, ...]

    @classmethod
    def read(cls, name: str, entry: Any) -> Prior:
        """Read a prior from its entry in a model file.

        Parameters
        ----------
        name : str
            The parameter, for messages.
        entry : mapping
            For example ``{"lognormal": {"median": 1.0, "log_sd": 1.2}}``.

        Raises
        ------
        ModelFileError
            If the family or a number is unknown, missing or impossible.
        """
        example = "{ lognormal = { median = 1.0, log_sd = 0.5 } }"
        if not isinstance(entry, dict) or len(entry) != 1:
            raise ModelFileError(f"prior {name}: write one family, for example {name} = {example}")
        ((family, numbers),) = entry.items()
        if family not in FAMILIES:
            raise ModelFileError(
                f"prior {name}: unknown family {shortened(repr(family))}{hint(family, FAMILIES)}; "
                f"valid: {', '.join(sorted(FAMILIES))}"
            )
        wanted = FAMILIES[family]
        if not isinstance(numbers, dict) or set(numbers) != set(wanted):
            given = ", ".join(sorted(numbers)) if isinstance(numbers, dict) else repr(numbers)
            given = shortened(given)
            raise ModelFileError(
                f"prior {name}: {family} takes {' and '.join(wanted)}, not {given or 'nothing'}"
            )
        for key, number in numbers.items():
            shown = f"prior {name}: {key} = {shortened(repr(number))}"
            if isinstance(number, bool) or not isinstance(number, int | float):
                raise ModelFileError(f"{shown} is not a number")
            if not math.isfinite(number):
                raise ModelFileError(f"{shown} must be finite")
            if key in _POSITIVE and number <= 0:
                raise ModelFileError(f"{shown} must be above 0")
            if not _LEAST[key] <= number <= _MOST[key]:
                raise ModelFileError(f"{shown}: write {_LEAST[key]:g} to {_MOST[key]:g}")
            if family == "logitnormal" and key == "median" and number >= 1:
                raise ModelFileError(f"prior {name}: median = {number} must be below 1")
        return cls(family, tuple(float(numbers[key]) for key in wanted))

    def entry(self) -> dict[str, dict[str, float]]:
        """Return the prior as a model file writes it; `read` turns it back."""
        return {self.family: dict(zip(FAMILIES[self.family], self.numbers, strict=True))}

    @property
    def root_mean_square(self) -> float:
        """Square root of the mean of its square."""
        law = self._frozen()
        return float(math.hypot(law.mean(), law.std()))

    def wider(self, sd: float) -> Prior:
        """Return the prior of the same with a further normal deviation, on its own scale.

        A beta distribution has no such scale and stays as it is.
        """
        if self.family == "beta":
            return self
        middle, own = self.numbers
        return Prior(self.family, (middle, math.hypot(own, sd)))

    def interval(self, mass: float = 0.9) -> tuple[float, float]:
        """Return the equal-tailed interval that holds `mass` of the prior."""
        low, high = self._frozen().interval(mass)
        return float(low), float(high)

    def quantile(self, probability: FloatArray) -> FloatArray:
        """Return the values below which the prior holds each probability."""
        values: FloatArray = self._frozen().ppf(probability)
        return values

    def draw(self, rng: np.random.Generator, size: int | tuple[int, ...]) -> FloatArray:
        """Draw from the prior."""
        drawn: FloatArray = self._frozen().rvs(size=size, random_state=rng)
        return drawn

    def log_density(self, value: Any) -> Any:
        """Return the natural logarithm of the prior's density at `value`."""
        return self._frozen().logpdf(value)

    def _frozen(self) -> Any:
        return _law(self.family, *self.numbers)


@cache
def _law(family: str, first: float, second: float) -> Any:
    # SciPy takes a millisecond to make one, which adds up in a study of many draws.
    from scipy import stats

    match family:
        case "lognormal":
            return stats.lognorm(s=second, scale=first)
        case "normal":
            return stats.norm(first, second)
        case "logitnormal":
            # Johnson's S_B distribution is that of a proportion whose logit is normal.
            return stats.johnsonsb(-math.log(first / (1.0 - first)) / second, 1.0 / second)
        case _:
            return stats.beta(first, second)


def hint(word: str, known: Iterable[str]) -> str:
    """Return ' (did you mean …?)' for a near miss, else nothing."""
    close = nearest(word, known)
    return f" (did you mean {close!r}?)" if close else ""
