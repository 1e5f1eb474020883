"""Years: the link between successive seasons of a lake."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fishdown.models.part import SHARE, ByLake, Parameter, Part, with_marks
from fishdown.models.parts.marks import no_mark_is_missing

if TYPE_CHECKING:
    from fishdown.campaign import Campaign
    from fishdown.models.part import LeftOut


@dataclass(frozen=True, kw_only=True)
class _Years(Part):
    def needs(self, parts: Mapping[str, str]) -> tuple[str, ...]:
        """Leave out mark retention if recaptures are not in the likelihood."""
        needed = super().needs(parts)
        return tuple(name for name in needed if name != "overwinter_retention" or with_marks(parts))


def _left_out(campaign: Campaign, parts: Mapping[str, str]) -> LeftOut:
    lakes = campaign.seasons["lake_index"].values
    if parts["years"] == "linked" and len(np.unique(lakes)) == len(lakes):
        return {"years": "apart"}, ("one year in each lake: years are not linked",)
    return {}, ()


def _objection(parts: Mapping[str, str]) -> str:
    if parts["years"] == "linked" and not no_mark_is_missing(parts):
        # The records do not separate recaptures of the season's own marks from those of earlier
        # years, so the number of its own that counts has no lower limit.
        return (
            'years = "linked" goes with marks = "all_count" or "effective", deaths = "recorded" '
            'and vulnerable = "all"; overwinter_retention accounts for mark loss between years'
        )
    return ""


YEARS = _Years(
    name="years",
    choices={
        "apart": (),
        "linked": (
            "survival",
            "recruits",
            "recruit_spread",
            "recruit_variation",
            "young_eaten_effect",
            "process_error",
            "exchange",
            "outside_density",
            "overwinter_retention",
        ),
    },
    parameters={
        "survival": Parameter(
            "survival of fish from one season to the next", families=SHARE, label="share"
        ),
        "overwinter_retention": Parameter(
            "mark retention over winter, of surviving marked fish", families=SHARE, label="share"
        ),
        "recruits": Parameter(
            "recruitment: young fish that join the stock in a year",
            "ha-1 year-1",
            label="fish/ha a year",
            by_lake=ByLake("recruit_spread"),
        ),
        "recruit_spread": Parameter(
            "spread of recruitment between lakes, on the log scale", among_lakes=True
        ),
        "recruit_variation": Parameter(
            "variation of a lake's recruitment from year to year", label="coefficient of variation"
        ),
        "young_eaten_effect": Parameter(
            "recruitment ratio with abundant egg and fry predators to without", label="ratio"
        ),
        "process_error": Parameter(
            "process error of abundance from year to year", label="log standard deviation"
        ),
        "exchange": Parameter(
            "share of a connected lake's fish exchanged with other waters in a year",
            families=SHARE,
            label="share",
        ),
        "outside_density": Parameter("fish density of connected waters", "ha-1", label="fish/ha"),
    },
    left_out=_left_out,
    objection=_objection,
)
