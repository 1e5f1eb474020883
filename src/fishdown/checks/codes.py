"""What a check of a fit found: each code with its sentence, and nowhere else."""

from __future__ import annotations

from enum import StrEnum

_MIDDLE = (
    "{middle} of {catches:#catch/catches} in the middle half of their predictive distribution; "
)
_BAND = "the {band:g} % band of a correct model"


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
    MOST_EXTREME_SEASON = (
        "{what} <{several:?}of {season}, the most extreme season|in {season}>: {observed} {unit}, "
        "predicted {low}–{high} {unit} ({tail})<{few:?}; too few draws for a judgement>"
    )
    KNOWN_EXACTLY = "abundance after the last pull is known exactly"
    SHARE_OF_PRIOR = (
        "the prior determines {prior_share:part} ({prior_share:percent}, Monte-Carlo error "
        "{mc_error:percent}) of the uncertainty about the {quantity} of {lake} {season}<, mostly "
        "that of {most}><{halved:?}; with all priors half as strong the probability of being below "
        "the threshold>< for {season_halved}><{halved:?} is {after:percent} instead of "
        "{before:percent}>"
    )
