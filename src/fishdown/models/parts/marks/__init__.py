"""Marks: how many of those released count, and which are counted together."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from fishdown.models.part import SHARE, ByLake, Parameter, Part, with_marks
from fishdown.models.parts.recaptures import ODDS

if TYPE_CHECKING:
    from fishdown.campaign import Campaign
    from fishdown.models.part import LeftOut

VULNERABLE = Part(
    name="vulnerable",
    choices={"all": (), "some": ("vulnerable",)},
    parameters={
        "vulnerable": Parameter(
            "proportion of the fish vulnerable to the gear", families=SHARE, label="share"
        )
    },
)

# With effective marks; marks that count one by one have one retention and survival for all lakes.
RETENTION_BY_LAKE = ByLake("retention_spread", "logit", wider_alone=True)
SURVIVAL_BY_LAKE = ByLake("release_survival_spread", "logit", wider_alone=True)
_SURVIVAL = {
    "post_release_survival": Parameter(
        "post-release survival of marked fish, beyond recorded deaths",
        families=SHARE,
        label="share",
        by_lake=SURVIVAL_BY_LAKE,
    )
}
_BY_KIND = {
    "clip_retention": Parameter(
        "probability that a fin clip is retained and detected at a recapture",
        families=SHARE,
        label="share",
        by_lake=RETENTION_BY_LAKE,
    ),
    "tag_retention": Parameter(
        "probability that a tag is retained and read at a recapture",
        families=SHARE,
        label="share",
        by_lake=RETENTION_BY_LAKE,
    ),
}
_SPREADS = {
    "retention_spread": Parameter(
        "spread of mark retention between lakes, on the logit scale", among_lakes=True
    ),
    "release_survival_spread": Parameter(
        "spread of post-release survival between lakes, on the logit scale", among_lakes=True
    ),
}


def _objection(parts: Mapping[str, str]) -> str:
    if parts["marks"] != "effective":
        return ""
    if parts["deaths"] == "unseen":
        return 'marks = "effective" has post_release_survival already; write deaths = "recorded"'
    if parts["batches"] == "apart":
        return (
            'marks = "effective" counts the marks of a season together; write batches = "together"'
        )
    return ""


_EFFECTIVE = (*_BY_KIND, *_SURVIVAL, *_SPREADS, *ODDS)
MARKS = Part(
    name="marks",
    choices={
        "all_count": (),
        "effective": _EFFECTIVE,
        "lost": ("mark_retention",),
        "shed": tuple(_BY_KIND),
    },
    parameters={
        "mark_retention": Parameter(
            "mark retention and detection: share of the marks detected at the first pull",
            families=SHARE,
            label="share",
        ),
        **_BY_KIND,
        **_SURVIVAL,
        **_SPREADS,
        **ODDS,
    },
    applies=with_marks,
    objection=_objection,
    reported={
        "effective_marks": Parameter(
            "effective marks for each mark released: retention, detection and post-release "
            "survival times the capture odds ratio of marked to unmarked fish",
            label="ratio",
        )
    },
    unreported={"effective": _EFFECTIVE},
)

DEATHS = Part(
    name="deaths",
    choices={"recorded": (), "unseen": tuple(_SURVIVAL)},
    parameters=_SURVIVAL,
    applies=with_marks,
)


def marks_known(parts: Mapping[str, str]) -> bool:
    """Return whether the marks at large are taken as known, or no marks are used."""
    return not with_marks(parts) or no_mark_is_missing(parts)


def no_mark_is_missing(parts: Mapping[str, str]) -> bool:
    """Return whether all marks released alive and not removed are taken to be at large."""
    all_there = parts["marks"] in {"all_count", "effective"} and parts["deaths"] == "recorded"
    return all_there and parts["vulnerable"] == "all"


def _left_out(campaign: Campaign, parts: Mapping[str, str]) -> LeftOut:
    # NumPy and the records' arrays are not needed to read a model file.
    from fishdown.models.parts.marks.release_groups import without_uninformed_marks

    return without_uninformed_marks(campaign, parts)


def _with_effective_marks(parts: Mapping[str, str]) -> bool:
    return with_marks(parts) and parts["marks"] == "effective"


def _antenna_objection(parts: Mapping[str, str]) -> str:
    if parts["antenna"] == "none" or parts["marks"] == "effective":
        return ""
    return (
        'antenna = "heard" is about effective marks: write marks = "effective", or antenna = "none"'
    )


def _unheard(campaign: Campaign, parts: Mapping[str, str]) -> LeftOut:
    if parts["antenna"] == "none":
        return {}, ()
    told = campaign.antenna.sizes.get("history", 0) > 0 and parts["marks"] == "effective"
    return ({} if told else {"antenna": "none"}), ()


def _second_looks_objection(parts: Mapping[str, str]) -> str:
    if parts["second_looks"] == "none" or parts["marks"] == "effective":
        return ""
    return (
        'second_looks = "taken" is about effective marks: write marks = "effective", or '
        'second_looks = "none"'
    )


def _not_looked_twice(campaign: Campaign, parts: Mapping[str, str]) -> LeftOut:
    if parts["second_looks"] == "none":
        return {}, ()
    # NumPy is not needed to read a model file.
    from fishdown.models.parts.marks.second_looks import looked_twice

    told = parts["marks"] == "effective" and looked_twice(campaign)
    return ({} if told else {"second_looks": "none"}), ()


SECOND_LOOKS = Part(
    name="second_looks",
    choices={"none": (), "taken": ("mark_detection",)},
    parameters={
        "mark_detection": Parameter(
            "probability that a look at a marked fish finds that it is marked",
            families=SHARE,
            label="share",
        ),
    },
    applies=_with_effective_marks,
    objection=_second_looks_objection,
    left_out=_not_looked_twice,
)

# The two parameters are integrated out, for each season by itself, and no variables of the graph.
ANTENNA = Part(
    name="antenna",
    choices={"none": (), "heard": ("heard_per_night", "heard_unlike")},
    parameters={
        "heard_per_night": Parameter(
            "mean probability that antennas hear a tag that is there on a night", families=SHARE
        ),
        "heard_unlike": Parameter(
            "how unlike fish are in that: intra-class correlation of a fish's nights",
            families=SHARE,
        ),
    },
    applies=_with_effective_marks,
    objection=_antenna_objection,
    left_out=_unheard,
)

# Choices of marks, deaths, batches and recaptures without information are left out together.
BATCHES = Part(
    name="batches",
    choices={"together": (), "apart": ()},
    applies=with_marks,
    left_out=_left_out,
)
