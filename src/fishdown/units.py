"""Metric and US customary units: the one table of conversions.

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

from dataclasses import dataclass


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

    def to_metric(self, value: float) -> float:
        """Return a value of this unit in the metric one."""
        return (value - self.zero) * self.factor

    def from_metric(self, value: float) -> float:
        """Return a value of the metric unit in this one."""
        return value / self.factor + self.zero


_YARD_M = 0.9144
_POUND_KG = 0.45359237
_ACRE_HA = 4840 * _YARD_M**2 / 10_000

# By the metric unit.
US_UNITS = {
    "ha": UsUnit("acres", _ACRE_HA),
    "kg": UsUnit("lb", _POUND_KG),
    "kg/ha": UsUnit("lb/acre", _POUND_KG / _ACRE_HA),
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
    return f"{float(f'{other.from_metric(value):.3g}'):,g} {other.unit}"
