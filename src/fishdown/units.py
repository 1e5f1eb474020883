"""Metric and US customary units: the one table of conversions, and which of them are shown.

Everything is computed in metric units. What people read is in the units of their campaign: whoever
writes a page, a table or a sentence does so within `shown_in`, and takes numbers by `shown` and
words by `label`.

By the agreement of 1959 the international yard is 0.9144 m and the pound 0.45359237 kg, exactly; an
inch is a 36th of a yard, and an acre 4,840 square yards of 4046.8564224 m² together [1]_. Degrees
Fahrenheit follow from degrees Celsius as 32 + 1.8 t [2]_.

References
----------
.. [1] US National Bureau of Standards. 1959. Refinement of values for the yard and the pound.
   Federal Register 24:5348.
.. [2] Thompson, Taylor. 2008. Guide for the use of the International System of Units. NIST Special
   Publication 811, appendix B.
"""

from __future__ import annotations

import re
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

if TYPE_CHECKING:
    from collections.abc import Iterator

System = Literal["metric", "us"]
SYSTEMS: tuple[System, ...] = ("metric", "us")


@dataclass(frozen=True)
class UsUnit:
    """A US customary unit in terms of a metric one: metric = (us − zero) · factor.

    Attributes
    ----------
    unit : str
        As people write it.
    factor : float
        How many of the metric unit one of them is.
    zero : float
        What it shows where the metric unit shows 0.
    """

    unit: str
    factor: float
    zero: float = 0.0

    def to_metric(self, value: Any) -> Any:
        """Return a value of this unit, or an array of them, in the metric one."""
        return (value - self.zero) * self.factor

    def from_metric(self, value: Any) -> Any:
        """Return a value of the metric unit, or an array of them, in this one."""
        return value / self.factor + self.zero


_YARD_M = 0.9144
_POUND_KG = 0.45359237
_ACRE_HA = 4840 * _YARD_M**2 / 10_000

# By the metric unit.
US_UNITS = {
    "ha": UsUnit("acres", _ACRE_HA),
    "kg": UsUnit("lb", _POUND_KG),
    "kg/ha": UsUnit("lb/acre", _POUND_KG / _ACRE_HA),
    "fish/ha": UsUnit("fish/acre", 1 / _ACRE_HA),
    "mm": UsUnit("in", _YARD_M * 1000 / 36),
    "°C": UsUnit("°F", 1 / 1.8, 32.0),
}


def with_unit(value: float, unit: str, *, us: bool) -> str:
    """Write a value with its unit, to three digits if it had to be converted.

    Parameters
    ----------
    value : float
        In the metric unit.
    unit : str
        The metric unit, a key of `US_UNITS`.
    us : bool
        Whether to write it in US customary units.
    """
    if not us:
        return f"{value:,g} {unit}" if unit == "ha" else f"{value:g} {unit}"
    other = US_UNITS[unit]
    return f"{three_digits(other.from_metric(value)):,g} {other.unit}"


def three_digits(value: float) -> float:
    """Round a value to three digits that count."""
    return float(f"{value:.3g}")


_SHOWN: ContextVar[System] = ContextVar("units", default="metric")
# Longer ones first. A change of temperature is a number and its unit in one.
_LABELS = (
    (r"−10 °C", "−18 °F"),
    (r"\b10 °C of cooling", "18 °F of cooling"),
    (r"\b5 °C colder", "9 °F colder"),
    (r"\bkg/ha\b", "lb/acre"),
    (r"\bfish/ha\b", "fish/acre"),
    (r"\bper hectare\b", "per acre"),
    (r"°C", "°F"),
    (r"\bkg\b", "lb"),
    (r"\bKilograms\b", "Pounds"),
    (r"\bkilograms\b", "pounds"),
    (r"\bha\b", "acres"),
)


@contextmanager
def shown_in(units: System) -> Iterator[None]:
    """Show numbers and words in these units while the block runs."""
    token = _SHOWN.set(units)
    try:
        yield
    finally:
        _SHOWN.reset(token)


def in_us() -> bool:
    """Whether US customary units are shown."""
    return _SHOWN.get() == "us"


def shown(value: Any, unit: str) -> Any:
    """Return a number, or an array, of a metric unit in the unit that is shown for it."""
    return US_UNITS[unit].from_metric(value) if in_us() and unit in US_UNITS else value


def shown_change(value: Any, unit: str) -> Any:
    """Return a difference, or a standard deviation, in the unit that is shown for it."""
    return value / US_UNITS[unit].factor if in_us() and unit in US_UNITS else value


def as_metric(value: float, unit: str) -> float:
    """Return a number that was given in the unit that is shown, in the metric one."""
    return float(US_UNITS[unit].to_metric(value)) if in_us() else value


def label(text: str) -> str:
    """Return words, without numbers that depend on a unit, with the units that are shown."""
    if in_us():
        for metric, other in _LABELS:
            text = re.sub(metric, other, text)
    return text
