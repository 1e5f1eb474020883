"""Mean weight from one season to the next: survivors grow, and recruits weigh what young fish do.

`models/README.md`, section "Years ahead", has the derivation.
"""

from __future__ import annotations

from typing import Any


def final_weight(own: Any, survival: Any, growth: Any, young: Any) -> Any:
    """Return the mean weight that the fish of a lake grow towards, kg.

    The one with which a lake at its own level keeps its mean weight: what survivors gain in a year
    then makes up for the recruits, lighter than the fish that they replace.

    Parameters
    ----------
    own : array
        The lake's own mean weight, before its first netting on record, kg.
    survival : array
        Natural survival in a median winter.
    growth : array
        Share of the way to the final weight that survivors grow in a year.
    young : array
        Mean weight of recruits, ratio to the lake's own.
    """
    return own * (1.0 + (1.0 - survival) * (1.0 - young) / (survival * growth))


def next_weight(weight: Any, share_young: Any, final: Any, growth: Any, young_kg: Any) -> Any:
    """Return the mean weight at the start of the next season, kg.

    Parameters
    ----------
    weight : array
        Mean weight at the end of this season, kg.
    share_young : array
        Share of recruits among the fish of the next season.
    final : array
        From `final_weight`, kg.
    growth : array
        Share of the way to it that survivors grow in a year.
    young_kg : array
        Mean weight of recruits, kg.
    """
    grown = weight + growth * (final - weight)
    return (1.0 - share_young) * grown + share_young * young_kg
