"""Plausible ranges of waters, fish and nets; a value beyond is an error of writing or of units.

The ranges are wide on purpose: they stop nonsense, and leave judgement to the crew. Values from
memory: the largest lake, the Caspian Sea, has some 37 million ha; the largest fish of fresh water,
sturgeons, some 7 m and 1,500 kg; larvae of carp some 5 mm and 2 mg; ponds that are fed and aerated
hold some 10,000 kg/ha or more, young fish in nursery ponds up to a million a hectare.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping


@dataclass(frozen=True)
class Range:
    """Least and most of a quantity, in its unit."""

    least: float
    most: float
    unit: str

    def __str__(self) -> str:
        least = f"{self.least:.6f}".rstrip("0").rstrip(".")
        return f"{least} to {self.most:,.0f} {self.unit}"


PLAUSIBLE: Mapping[str, Range] = {
    "area_ha": Range(0.001, 40_000_000, "ha"),
    "threshold_kg_per_ha": Range(0.01, 100_000, "kg/ha"),
    "length_mm": Range(1, 10_000, "mm"),
    # Grams for kilograms have a rule of their own (rules_fish), which says more.
    "weight_kg": Range(0.000001, 100_000, "kg"),
    "effort_h": Range(0.01, 10_000, "hours"),
    "fish_per_ha": Range(0, 1_000_000, "fish/ha"),
}
