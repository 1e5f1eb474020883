"""Recaptures: how marked fish come to be in a catch, given its size."""

from __future__ import annotations

from fishdown.models.part import Parameter, Part, with_marks

RECAPTURES = Part(
    name="recaptures",
    choices={"random": (), "uneven": ("capture_odds_ratio",), "clumped": ("clumping",)},
    parameters={
        "capture_odds_ratio": Parameter(
            "capture odds ratio, marked to unmarked fish", label="odds ratio"
        ),
        "clumping": Parameter(
            "variation between pulls of the share of marked fish caught, beyond that of all fish",
            label="coefficient of variation",
        ),
    },
    applies=with_marks,
)
