"""The area of a lake on the day of a statement, in words, where it is not the usual one."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fishdown.units import label, shown
from fishdown.words import amount

if TYPE_CHECKING:
    from fishdown.campaign import Campaign


def at_area(campaign: Campaign, season: int, when: str) -> str:
    """Say at which area of a lake its density is stated.

    Parameters
    ----------
    campaign : Campaign
    season : int
        Position of the season.
    when : {"before", "after"}
        Netting: on the day of the first pull, or of the last.

    Returns
    -------
    str
        To stand behind the name of the fish; empty at the usual area.
    """
    here = campaign.seasons.isel(season=season)
    area = float(here[f"area_{when}"])
    if area == float(campaign.lake_of(season)["area"]):
        return ""
    day = here["first_day" if when == "before" else "last_day"].values.astype("datetime64[D]")
    return f" at the lake's area of {amount(shown(area, 'ha'))} {label('ha')} on {day}"
