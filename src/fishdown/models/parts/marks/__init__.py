"""Marks: how many of those released can be recaptured, and which are counted together."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from fishdown.models.part import SHARE, Parameter, Part, with_marks

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

MARKS = Part(
    name="marks",
    choices={"kept": (), "lost": ("mark_retention",), "shed": ("clip_retention", "tag_retention")},
    parameters={
        "mark_retention": Parameter(
            "mark retention and detection: share of the marks detected at the first pull",
            families=SHARE,
            label="share",
        ),
        "clip_retention": Parameter(
            "probability that a fin clip is retained and detected at a recapture",
            families=SHARE,
            label="share",
        ),
        "tag_retention": Parameter(
            "probability that a tag is retained and read at a recapture",
            families=SHARE,
            label="share",
        ),
    },
    applies=with_marks,
)

DEATHS = Part(
    name="deaths",
    choices={"recorded": (), "unseen": ("post_release_survival",)},
    parameters={
        "post_release_survival": Parameter(
            "post-release survival of marked fish, beyond recorded deaths",
            families=SHARE,
            label="share",
        )
    },
    applies=with_marks,
)


def all_marks_count(parts: Mapping[str, str]) -> bool:
    """Return whether every mark released alive is taken to be at large and detectable."""
    always = {one.name: one.default for one in (VULNERABLE, MARKS, DEATHS)}
    return not with_marks(parts) or all(parts[name] == default for name, default in always.items())


def _left_out(campaign: Campaign, parts: Mapping[str, str]) -> LeftOut:
    # NumPy and the records' arrays are not needed to read a model file.
    from fishdown.models.parts.marks.release_groups import without_uninformed_marks

    return without_uninformed_marks(campaign, parts)


# Choices of marks, deaths, batches and recaptures without information are left out together.
BATCHES = Part(
    name="batches",
    choices={"together": (), "apart": ()},
    applies=with_marks,
    left_out=_left_out,
)
