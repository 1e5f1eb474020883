"""Rules on the sizes of measured fish: chosen by size, or off the standard of their species."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from fishdown.records.codes import Odd
from fishdown.records.rules_fish import weights_off
from fishdown.records.selection import picked_from_catches, weighed_among_measured
from fishdown.records.settings import is_common_carp
from fishdown.records.tables import rows_of
from fishdown.units import with_unit

if TYPE_CHECKING:
    from collections.abc import Iterator

    from fishdown.records.draft import Draft
    from fishdown.records.problems import Problem

# Fewer fish with both length and weight than this do not determine weight by length
# (our judgement, no source).
FEWEST_PAIRS = 10

# Standard weight of common carp, log10 W[g] = −4.639 + 2.920 log10 L[mm], total length of 200 mm
# or more: Bister et al. 2000, N. Am. J. Fish. Manage. 20:570–574 (value from memory).
STANDARD_INTERCEPT, STANDARD_SLOPE = -4.639, 2.920
SHORTEST_STANDARD_MM = 200.0
# Single carp of 70 to 140 % of it are common (common practice, no source); these limits are wide.
_LIGHTEST, _HEAVIEST = 50.0, 200.0
_MOST_FISH_SHOWN = 5


def relative_weight(length_mm: float, weight_kg: float) -> float:
    """Return the weight of a common carp as percent of the standard weight of its length.

    Parameters
    ----------
    length_mm : float
        Total length, mm.
    weight_kg : float
        kg.
    """
    log_standard_g = STANDARD_INTERCEPT + STANDARD_SLOPE * math.log10(length_mm)
    return 100_000.0 * weight_kg / math.pow(10.0, log_standard_g)


def weights_off_standard(draft: Draft) -> Iterator[Problem]:
    """Find common carp far from the standard weight of their length; all in one warning."""
    if draft.settings is None or not is_common_carp(draft.settings.species):
        return
    fish = draft.frames["measured"]
    both = fish[(fish["length_mm"] >= SHORTEST_STANDARD_MM) & fish["weight_kg"].notna()]
    refused, us = weights_off(draft), draft.in_us_units("measured")
    off = []
    for carp in rows_of(both):
        relative = relative_weight(carp.length_mm, carp.weight_kg)
        if carp.row not in refused and not _LIGHTEST <= relative <= _HEAVIEST:
            length = with_unit(carp.length_mm, "mm", us=us)
            weight = with_unit(carp.weight_kg, "kg", us=us)
            off.append(f"row {carp.row}: {length} and {weight}, {relative:.0f} %")
    if not off:
        return
    said: dict[str, Any] = {"fish": len(off), "lightest": _LIGHTEST, "heaviest": _HEAVIEST}
    others = max(len(off) - _MOST_FISH_SHOWN, 0)
    at, examples = ("measured", None, "weight_kg"), "; ".join(off[:_MOST_FISH_SHOWN])
    yield draft.problem(Odd.OFF_STANDARD_WEIGHT, *at, examples=examples, others=others, **said)


def larger_fish_weighed(draft: Draft) -> Iterator[Problem]:
    """Find seasons whose weighed fish are longer, or shorter, than those measured only."""
    measured = draft.frames["measured"]
    pairs = int((measured["length_mm"].notna() & measured["weight_kg"].notna()).sum())
    for found in weighed_among_measured(measured):
        said = found.values() | {"paired": pairs >= FEWEST_PAIRS, "fewest": FEWEST_PAIRS}
        yield draft.problem(Odd.WEIGHED_UNLIKE_MEASURED, "measured", None, "weight_kg", **said)


def larger_fish_measured(draft: Draft) -> Iterator[Problem]:
    """Find seasons whose catches measured in part gave larger, or smaller, fish than others."""
    for found in picked_from_catches(draft.frames["measured"], draft.frames["pulls"]):
        yield draft.problem(Odd.MEASURED_UNLIKE_CATCH, "measured", **found.values())
