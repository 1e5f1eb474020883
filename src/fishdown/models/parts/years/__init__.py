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

SURVIVAL_BY_LAKE = ByLake("survival_spread", "logit")
REPLACEMENT_BY_LAKE = ByLake("recruit_spread")


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
            "survival_spread",
            "winter_spread",
            "replacement",
            "recruit_spread",
            "recruit_variation",
            "young_eaten_effect",
            "process_error",
            "exchange",
            "outside_ratio",
            "overwinter_retention",
        ),
    },
    parameters={
        "survival": Parameter(
            "natural survival of adult fish from one season to the next, in a median winter",
            families=SHARE,
            label="share",
            by_lake=SURVIVAL_BY_LAKE,
        ),
        "survival_spread": Parameter(
            "spread of survival between lakes, on the logit scale", among_lakes=True
        ),
        "winter_spread": Parameter(
            "spread of a lake's survival from winter to winter, on the logit scale",
            label="logit standard deviation",
        ),
        "overwinter_retention": Parameter(
            "mark retention over winter, of surviving marked fish", families=SHARE, label="share"
        ),
        "replacement": Parameter(
            "recruits of an average year, ratio to the natural deaths of a year at the lake's "
            "abundance of the first season",
            label="ratio",
            by_lake=REPLACEMENT_BY_LAKE,
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
            "process error of abundance from year to year, beyond survival and recruitment",
            label="log standard deviation",
        ),
        "exchange": Parameter(
            "share of a connected lake's fish exchanged with other waters in a year",
            families=SHARE,
            label="share",
        ),
        "outside_ratio": Parameter(
            "fish density of connected waters, ratio to the lake's of the first season",
            label="ratio",
        ),
    },
    left_out=_left_out,
    objection=_objection,
)
