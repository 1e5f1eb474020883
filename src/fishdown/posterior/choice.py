"""Which model a campaign is fitted with when nobody says."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fishdown.models.spec import ModelSpec, read_model

if TYPE_CHECKING:
    from pathlib import Path

    from fishdown.campaign import Campaign

# As many passes as the textbook designs have.
FEW_PASSES = 5


def choose_model(campaign: Campaign, asked: str | Path | ModelSpec | None = None) -> ModelSpec:
    """Return the model asked for, or the campaign's own, or the one its records call for.

    Few passes everywhere call for the textbook model; several seasons of a lake are linked;
    otherwise several lakes are pooled and a single one stands alone.

    Parameters
    ----------
    campaign : Campaign
    asked : str, path or ModelSpec, optional

    Raises
    ------
    ModelFileError
        If there is no such model.
    """
    if isinstance(asked, ModelSpec):
        return asked
    named = asked or campaign.settings.model
    if named:
        return read_model(named)
    pulls_a_season = np.bincount(campaign.pulls["season_index"].values)
    if pulls_a_season.max() <= FEW_PASSES:
        return read_model("few_passes")
    seasons = np.bincount(campaign.netted.seasons["lake_index"].values)
    if seasons.max() > 1:
        return read_model("many_years")
    several = len(np.unique(campaign.seasons["lake_index"].values)) > 1
    return read_model("pooled_lakes" if several else "one_lake")
