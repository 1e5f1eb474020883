"""Seasons whose records do not determine abundance: their posterior would repeat the prior.

`fishdown check` says so before a fit, by the same two criteria: are there recapture data, and can
catches decline with removal?
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from fishdown.records.telling import why_no_depletion, why_no_marks

if TYPE_CHECKING:
    from fishdown.campaign import Campaign
    from fishdown.models.spec import ModelSpec
    from fishdown.sentences import Said


def untold(campaign: Campaign, spec: ModelSpec) -> tuple[str, ...]:
    """Return, for each season, why its abundance is not determined; empty where it is.

    Where years are linked, the other years of a lake inform it; where lakes are pooled, valid pulls
    do, through the catchability estimated from other lakes.
    """
    lake = campaign.seasons["lake_index"].values
    by_season = dict(list(campaign.pulls.to_dataframe().groupby("season_index")))
    none = campaign.pulls.isel(pull=slice(0)).to_dataframe()
    found, fished = [], []
    for season in range(len(lake)):
        pulls = by_season.get(season, none)
        reasons: list[Said | None] = []
        if spec.part("evidence") != "depletion":
            marked = int(campaign.seasons["marked"].values[season])
            reasons.append(why_no_marks(pulls, marked))
        if spec.part("evidence") != "marks":
            reasons.append(why_no_depletion(pulls))
        found.append(" and ".join(map(str, reasons)) if all(reasons) else "")
        fished.append(bool((~pulls["spoiled"].astype(bool)).any()))
    told = [not reason for reason in found]
    told_lakes = {lake[season] for season in range(len(lake)) if told[season]}
    for season in range(len(lake)):
        by_years = spec.part("years") == "linked" and lake[season] in told_lakes
        pooled = spec.part("pooling") == "lakes" and spec.part("evidence") != "marks"
        by_lakes = pooled and fished[season] and bool(told_lakes - {lake[season]})
        if by_years or by_lakes:
            found[season] = ""
    return tuple(
        f"the records do not determine abundance ({reason}), so a fit would only repeat what was "
        "assumed beforehand"
        if reason
        else ""
        for reason in found
    )
