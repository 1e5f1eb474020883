"""Choices of the whole model: the data in the likelihood, and pooling of lakes."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

import numpy as np

from fishdown.models.part import Part

if TYPE_CHECKING:
    from fishdown.campaign import Campaign
    from fishdown.models.part import LeftOut

EVIDENCE = Part(name="evidence", choices={"both": (), "marks": (), "depletion": ()})


def _no_lakes_to_pool(campaign: Campaign, parts: Mapping[str, str]) -> LeftOut:
    if parts["pooling"] == "lakes" and len(np.unique(campaign.seasons["lake_index"])) == 1:
        return {"pooling": "none"}, ("one lake: no pooling",)
    return {}, ()


POOLING = Part(name="pooling", choices={"none": (), "lakes": ()}, left_out=_no_lakes_to_pool)
