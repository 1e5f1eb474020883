"""What records can and cannot identify: each code with its words, and nowhere else."""

from __future__ import annotations

from enum import StrEnum

_RELATION = "(length–weight relation of {pairs} fish): biomass"
_TOO = "about {percent:.0f} % too <{larger:?}high|low>"


class Evidence(StrEnum):
    """A source of information on abundance."""

    MARKS = (
        "mark–recapture ({alive:,} marked fish at large<{earlier:?}, and others of earlier years>)"
    )
    MARKS_OF_EARLIER_YEARS = "mark–recapture (marked fish of earlier years)"
    DEPLETION = "depletion ({pulls} pulls, {removed:,} fish removed)"


class Identified(StrEnum):
    """What can be estimated."""

    ABUNDANCE = "abundance"
    CATCHABILITY = "catchability"
    EFFECT = "{words}"
    OVERDISPERSION = "overdispersion of recaptures ({catches} catches examined)"
    BATCHES = "batches ({batches} distinguished)"
    PENS = "mark retention and post-release survival ({fish:#penned fish/penned fish})"
    SECOND_LOOKS = (
        "detection of marks ({fish:#marked fish/marked fish} found where fish were looked at "
        "twice, {second:,} of them at the second look only)"
    )
    HEARD = (
        "tags still there ({heard:,} of {tags:,} heard by antennas in {nights:#night} that count)"
    )
    SECOND_GEAR = "marked share by another gear ({fish:,} fish looked at, {marked:,} marked)"
    CATCH_PER_EFFORT = "fall of the catch per effort of another gear ({runs} runs)"
    SHEDDING = "shedding of clips and tags ({fish:#double-marked fish/double-marked fish})"
    CONSISTENCY = "consistency of mark–recapture with depletion"


class Remark(StrEnum):
    """What cannot be estimated, and why; other remarks."""

    NO_RECORDS = "no records: nothing can be estimated"
    DEPLETION_ONLY = "{why}: abundance rests on depletion only"
    FROM_OTHER_YEARS = "abundance can be estimated only from the adjacent years (model many_years)"
    FROM_OTHER_LAKES = (
        "abundance cannot be estimated from these records alone (model pooled_lakes uses the "
        "catchability of the other lakes)"
    )
    NOT_ESTIMABLE = "abundance cannot be estimated"
    NO_RECAPTURES = "no recaptures: the marks give only a lower limit of abundance"
    NO_DECLINE = "catches do not decline: depletion is weakly informative"
    CONFOUNDED = "the water cools as catches decline: cooling and depletion are confounded"
    EFFECT = "{words}"
    BATCHES_MIXED = "recaptures do not distinguish <the {batches} batches|the kinds of mark>"
    NOT_HEARD = (
        "antenna detections do not tell how many tags are still there: that takes their numbers in "
        "tags.csv, and nights from a week after release to the last pull"
    )
    NO_MARKS_COMPARED = (
        "no double-marked fish was checked for both marks: shedding cannot be estimated"
    )
    MOVEMENTS = (
        "<{came:,.0f} fish that came><{both:?} and ><{went:,.0f} fish that went> other than by the "
        "nets are counted in"
    )
    AREAS = (
        "lake area of {first} {unit} at the first pull and {last} {unit} at the last ({least} to "
        "{most} {unit} at all pulls): catchability and biomass density follow it"
    )
    # Weights and lengths.
    WEIGHTS = "{weighed:#weight}: biomass"
    LENGTHS = "{alone:#length} " + _RELATION
    WEIGHTS_AND_LENGTHS = "{weighed:#weight} and {alone:#more length} " + _RELATION
    NO_WEIGHTS_HERE = "no weights: biomass from the mean weight of the lake's other seasons"
    NO_WEIGHTS_IN_LAKE = (
        "no weights: biomass only from the mean weight of other lakes, by partial pooling"
    )
    NO_WEIGHTS = "no weights: no biomass"
    NOT_WEIGHED = "{alone:#fish/fish} <{several:?}have|has> a length but no weight"
    SELECTED_FOR_WEIGHING = (
        "<{larger:?}larger|smaller> fish were more likely to be weighed: from the weights alone, "
        f"biomass would be {_TOO}"
    )
    SELECTED_FOR_MEASURING = (
        "<{larger:?}larger|smaller> fish seem to have been selected for measuring: biomass may be "
        + _TOO
    )
    # The whole campaign.
    ONE_LAKE = "one lake: no partial pooling"
    SEVERAL_LAKES = "{lakes} lakes share information (partial pooling)"
    SEVERAL_YEARS = (
        "{winters:#winter} between the years of a lake: survival and recruitment jointly (model "
        "many_years)<{carried:?}, and separately by marks that last over winter|; without marks "
        "that last over winter only their priors separate the two><; {idle:#year} without "
        "netting, interpolated with greater uncertainty>"
    )
    CONSISTENCY = (
        f"{Identified.CONSISTENCY}, in {{seasons:#season}}: mark loss, post-release mortality, "
        "fish not vulnerable to the gear and trap-shy or trap-happy marked fish act alike, so "
        "that only their product is identifiable (models lost_marks, careful_marks, hidden_fish, "
        "shy_marks; a fit states the share of the posterior determined by the prior)"
    )
