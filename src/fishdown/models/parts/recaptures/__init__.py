"""Recaptures: how marked fish come to be in a catch, given its size."""

from __future__ import annotations

from collections.abc import Mapping

from fishdown.models.part import ByLake, Parameter, Part, with_marks

ODDS_BY_LAKE = ByLake("odds_spread", wider_alone=True)
ODDS = {
    "capture_odds_ratio": Parameter(
        "capture odds ratio, marked to unmarked fish",
        label="odds ratio",
        by_lake=ODDS_BY_LAKE,
    ),
    "odds_spread": Parameter(
        "spread of the capture odds ratio between lakes, on the log scale", among_lakes=True
    ),
}


def _objection(parts: Mapping[str, str]) -> str:
    if parts["recaptures"] == "uneven" and parts["marks"] == "effective":
        return (
            'marks = "effective" has a capture odds ratio already; with it, recaptures are '
            '"random" or "clumped"'
        )
    return ""


RECAPTURES = Part(
    name="recaptures",
    choices={"random": (), "uneven": tuple(ODDS), "clumped": ("clumping",)},
    parameters={
        **ODDS,
        "clumping": Parameter(
            "variation between pulls of the share of marked fish caught, beyond that of all fish",
            label="coefficient of variation",
        ),
    },
    applies=with_marks,
    objection=_objection,
)


def hypergeometric(parts: Mapping[str, str]) -> bool:
    """Return whether marked fish are in each catch at random, the ones as likely as the others."""
    return parts["recaptures"] == "random" and parts["marks"] != "effective"
