"""Open lakes: within a season fish die of natural causes, and immigrate.

`models/README.md`, section "Open lakes", has the mathematics.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from fishdown.models.part import Parameter, Part, with_marks

if TYPE_CHECKING:
    from fishdown.campaign import Campaign
    from fishdown.models.part import LeftOut


def _marks_die_elsewhere(parts: Mapping[str, str]) -> str:
    if parts["natural_deaths"] == "steady" and parts["marks"] in {"lost", "shed"}:
        return (
            f'natural_deaths = "steady" counts marked fish that die, marks = "{parts["marks"]}" '
            'does too; write marks = "effective"'
        )
    return ""


NATURAL_DEATHS = Part(
    name="natural_deaths",
    choices={"none": (), "steady": ("natural_mortality",)},
    parameters={
        "natural_mortality": Parameter(
            "natural mortality rate within a season, of marked and unmarked fish alike",
            "year-1",
            label="per year",
        )
    },
    objection=_marks_die_elsewhere,
    # It is known by its prior: hardly any record of one season speaks of it.
    unreported={"steady": ("natural_mortality",)},
)


def _arrivals_not_told(parts: Mapping[str, str]) -> str:
    # Elsewhere the marked and the unmarked fish in a catch are counted one by one.
    if parts["immigration"] == "steady" and with_marks(parts) and parts["recaptures"] == "random":
        return 'immigration = "steady" needs recaptures = "clumped" or "uneven"'
    return ""


def _left_out(campaign: Campaign, parts: Mapping[str, str]) -> LeftOut:
    if parts["immigration"] == "none":
        return {}, ()
    if not campaign.lakes["connected"].values.any():
        return {"immigration": "none"}, ()
    if parts["recaptures"] == "random":
        return {"immigration": "none"}, (
            "recaptures taken as random: no immigration within the season",
        )
    return {}, ()


IMMIGRATION = Part(
    name="immigration",
    choices={"none": (), "steady": ("immigration",)},
    parameters={
        "immigration": Parameter(
            "immigration within a season into connected lakes, relative to the fish before the "
            "first pull",
            "year-1",
            label="share a year",
        )
    },
    applies=with_marks,
    objection=_arrivals_not_told,
    left_out=_left_out,
)
