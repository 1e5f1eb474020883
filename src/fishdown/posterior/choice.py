"""The model of a campaign: the one asked for or its default, and what is left of it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fishdown.equality import by_value
from fishdown.models.data import fitting_spec
from fishdown.models.spec import ModelSpec, read_model

if TYPE_CHECKING:
    from pathlib import Path

    from fishdown.campaign import Campaign

# At most as many passes as textbook designs have.
FEW_PASSES = 5


@dataclass(frozen=True)
class Choice:
    """A model, and why it is this one.

    Attributes
    ----------
    spec : ModelSpec
    why : str
        In words, to stand after the model's name.
    """

    spec: ModelSpec
    why: str


@by_value
@dataclass(frozen=True)
class ChosenModel:
    """What a campaign is fitted with.

    Attributes
    ----------
    campaign : Campaign
        Without seasons that the model cannot use.
    choice : Choice
    spec : ModelSpec
        The chosen model without the parts on which the campaign carries no information.
    notes : tuple of str
        What was left out.
    """

    campaign: Campaign
    choice: Choice
    spec: ModelSpec
    notes: tuple[str, ...]


def chosen_model(campaign: Campaign, asked: str | Path | ModelSpec | None = None) -> ChosenModel:
    """Choose a model as `choose_model` does, and leave out what the campaign cannot inform."""
    choice = choose_model(campaign, asked)
    spec, notes = fitting_spec(campaign, choice.spec)
    if spec.part("years") == "apart":
        campaign = campaign.netted
    return ChosenModel(campaign, choice, spec, notes)


def choose_model(campaign: Campaign, asked: str | Path | ModelSpec | None = None) -> Choice:
    """Return the model asked for, or the campaign's own, or the one its records call for.

    Removal passes are the textbook's case: one gear works over one place a few times, and no fish
    carry marks. Nets that stand in different places are not passes, however few pulls there are:
    schools and places make their catches differ far beyond chance. Several seasons of a lake are
    linked; otherwise several lakes are pooled and a single one stands alone.

    Raises
    ------
    ModelFileError
        If there is no such model.
    """
    if isinstance(asked, ModelSpec):
        return Choice(asked, "as asked for")
    if asked:
        return Choice(read_model(asked), "as asked for")
    if campaign.settings.model:
        return Choice(read_model(campaign.settings.model), "named in campaign.toml")
    if _passes(campaign):
        why = f"up to {FEW_PASSES} passes of one net over one place, and no marks"
        return Choice(read_model("few_passes"), why)
    if np.bincount(campaign.netted.seasons["lake_index"].values).max() > 1:
        return Choice(read_model("many_years"), "a lake was netted in several seasons")
    if len(np.unique(campaign.seasons["lake_index"].values)) > 1:
        return Choice(read_model("pooled_lakes"), "several lakes, one season each")
    return Choice(read_model("one_lake"), "one lake in one season")


def _passes(campaign: Campaign) -> bool:
    """Return whether every season is a few passes of one gear over one place, without marks."""
    pulls = campaign.pulls
    if campaign.seasons["marked"].values.any() or pulls["marks_at_large"].values.any():
        return False
    season, mesh = pulls["season_index"].values, np.nan_to_num(pulls["mesh_mm"].values)
    gears = set(zip(season.tolist(), pulls["net"].values.tolist(), mesh.tolist(), strict=True))
    one_gear = len(gears) == len(np.unique(season))
    return one_gear and bool(np.bincount(season).max() <= FEW_PASSES)
