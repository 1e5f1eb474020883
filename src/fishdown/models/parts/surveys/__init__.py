"""A second gear: the marked share by another gear than the nets, and its catch per effort.

`models/README.md`, section "A second gear", has the mathematics.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from fishdown.models.part import Parameter, Part, with_marks

if TYPE_CHECKING:
    from fishdown.campaign import Campaign
    from fishdown.models.part import LeftOut


def _applies(parts: Mapping[str, str]) -> bool:
    return with_marks(parts) and parts["marks"] == "effective"


def _objection(parts: Mapping[str, str]) -> str:
    if parts["surveys"] == "none" or parts["marks"] == "effective":
        return ""
    return (
        'surveys = "second_gear" is about effective marks: write marks = "effective", or '
        'surveys = "none"'
    )


def _left_out(campaign: Campaign, parts: Mapping[str, str]) -> LeftOut:
    if parts["surveys"] == "none":
        return {}, ()
    # NumPy and the records' arrays are not needed to read a model file.
    from fishdown.models.parts.surveys.runs import any_run_tells

    told = parts["marks"] == "effective" and any_run_tells(campaign)
    return ({} if told else {"surveys": "none"}), ()


# The parameters are integrated out, for each lake and gear by itself: no variables of the graph.
SURVEYS = Part(
    name="surveys",
    choices={
        "none": (),
        "second_gear": ("second_gear_odds", "same_gear_odds", "survey_variation"),
    },
    parameters={
        "second_gear_odds": Parameter(
            "odds of a marked to an unmarked fish to be caught by a gear that is neither the nets "
            "nor the one of the marking"
        ),
        "same_gear_odds": Parameter(
            "odds of a marked to an unmarked fish to be caught by the gear of the marking"
        ),
        "survey_variation": Parameter(
            "variation of a gear's catch per effort beyond that of the fish in the lake: standard "
            "deviation of its logarithm"
        ),
    },
    applies=_applies,
    objection=_objection,
    left_out=_left_out,
)
