"""What checks of a fit found: each code with its sentence, and nowhere else."""

from __future__ import annotations

from enum import StrEnum

_MIDDLE = (
    "{middle} of {catches:#catch/catches} in the middle half of their predictive distribution; "
)
_BAND = "the {band:g} % band of a correct model"
_SEASON = (
    "{what}<{together:?}, mean difference from the prediction over all {seasons} seasons|"
    "{several:?} of {season}, the most extreme season| in {season}>: {observed}< {unit}>, "
    "predicted {low}<{signed:?} to |–>{high}< {unit}> ({tail})"
)


class Found(StrEnum):
    """What a check found."""

    CATCHES_OUTSIDE = (
        "{outside} of {catches:#catch/catches} outside the 90 % band; "
        "<{few:?}too few catches for a judgement|up to {allowed} are expected by chance>"
    )
    TOO_FEW_FOR_SPREAD = f"{_MIDDLE}too few catches for a judgement"
    SPREAD_INSIDE = f"{_MIDDLE}their distribution stays inside {_BAND}"
    CATCHES_LARGER = f"{_MIDDLE}their distribution leaves {_BAND}: they are larger than expected"
    CATCHES_SMALLER = f"{_MIDDLE}their distribution leaves {_BAND}: they are smaller than expected"
    CATCHES_VARY_MORE = f"{_MIDDLE}their distribution leaves {_BAND}: they vary more than expected"
    CATCHES_VARY_LESS = f"{_MIDDLE}their distribution leaves {_BAND}: they vary less than expected"
    MOST_EXTREME_SEASON = f"{_SEASON}<{{few:?}}; too few draws for a judgement>"
    MARKED_SHARE_FALLS = (
        f"{_SEASON}; the share of marked fish in the catches falls in the course of the season: "
        "unmarked fish may have immigrated, marks may have been shed, or marked fish may have died "
        "or left"
    )
    MARKED_SHARE_RISES = (
        f"{_SEASON}; the share of marked fish in the catches rises in the course of the season: "
        "trap-shyness after marking may have worn off, or unmarked fish may have left"
    )
    NETS_ALIKE = (
        f"{_SEASON}; the nets share the recaptures more evenly than chance does: recaptures of "
        "several nets may have been counted together and divided"
    )
    NETS_DIFFER = (
        f"{_SEASON}; the share of marked fish differs between nets: marked fish may not have mixed "
        "with the others, or some catches may not have been examined with care"
    )
    BATCHES_ALIKE = (
        f"{_SEASON}; recaptures follow the fish released more closely than chance does: batches "
        "may have been assigned to recaptures in proportion"
    )
    BATCHES_DIFFER = (
        f"{_SEASON}; batches differ in their share of recaptures: fish of a batch may have lost "
        "their marks, died, or not mixed with the others"
    )
    CATCHES_IN_RUNS = (
        f"{_SEASON}; high catches follow high ones and low catches low ones: what a pull takes may "
        "drift, with weather, bait or season, beyond what the model allows"
    )
    FISH_HEAVIER_LATER = (
        f"{_SEASON}; fish measured later are heavier than the model allows: fish may have grown, "
        "or nets may have taken light fish first"
    )
    FISH_LIGHTER_LATER = (
        f"{_SEASON}; fish measured later are lighter than the model allows: fish may have lost "
        "weight, or nets may have taken heavy fish first"
    )
    WEIGHTS_DIFFER = (
        f"{_SEASON}; mean weights differ more between catches than the model allows: schools may "
        "be of fish alike, nets or sites may differ in their fish, or fish may have been chosen "
        "for weighing"
    )


_WARNING = "<WARNING, unreliable ({failure}): >"


class Ranking(StrEnum):
    """How temperature–catchability curves compare."""

    FAILED = "{shape}: {failure}"
    UNRELIABLE = (
        "{shape}: k is above {limit:.2f} for {unreliable} of {groups} {left_out}, whose "
        "predictions from this fit are unreliable"
    )
    NOT_RANKED = "The curves are not ranked: {failure}."
    BEST = (
        f"{_WARNING}The best curve is {{best}}: it predicts the left-out {{left_out}} better than "
        "the next, {nearest}, by {behind}."
    )
    ALIKE = (
        f"{_WARNING}The records do not distinguish {{alike}}: they predict the left-out "
        "{left_out} equally well (difference below {small:g}, or within two standard errors)."
        "<{without:?} A model without an effect of temperature predicts as well.>{worse}"
    )
    WORSE = " {shape} is worse by {behind}."
