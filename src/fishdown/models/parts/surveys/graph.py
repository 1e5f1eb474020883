"""Runs of another gear in the graph."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pymc as pm
import pytensor.tensor as pt

from fishdown.models.parts.marks.used_up import share_left, still_there
from fishdown.models.parts.open_lake.times import Spell
from fishdown.models.parts.surveys.densities import efforts_log_density, looks_log_density

if TYPE_CHECKING:
    from fishdown.models.parts.open_lake.present import OpenLake
    from fishdown.models.parts.surveys.runs import Surveys


def add_surveys(
    surveys: Surveys[Any],
    lake: OpenLake,
    fish: Any,
    carried: Any,
    kept: Any,
    odds: Any,
    clumping: Any,
) -> None:
    """Add what the runs tell.

    Parameters
    ----------
    surveys : Surveys
    lake : OpenLake
    fish, carried : tensor, shape (season,)
        Fish before the first pull, and marks of earlier years among them.
    kept : tensor, shape (season,)
        Share of the marks that is kept, seen, and on a living fish.
    odds : tensor, shape (season,)
        Capture odds of marked to unmarked fish, of the nets.
    clumping : tensor or float
        How much marked fish keep together.
    """
    looks, efforts = surveys.looks, surveys.efforts
    if looks is not None:
        marked = looks.marks + carried[looks.season]
        # Marked and unmarked fish die alike; those that arrive are unmarked.
        there = fish[looks.season] * (1.0 + lake.arrived(looks.open_years)) - looks.gone_before
        left = share_left(looks.gone_before, fish[looks.season], xp=pt)
        visible = still_there(kept[looks.season], left, odds[looks.season], xp=pt)
        unmarked = there - visible * marked
        density = looks_log_density(looks, marked, unmarked, visible, clumping, xp=pt)
        pm.Potential("surveys", density)
    if efforts is not None:
        spell = Spell(efforts.years, efforts.open_years, 0.0)
        there = lake.present(fish[efforts.season], efforts.gone_before, spell, xp=pt)
        pm.Potential("survey_efforts", efforts_log_density(efforts, there, xp=pt))
