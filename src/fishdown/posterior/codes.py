"""What a fit says of its own evidence: each code with its sentence, and nowhere else."""

from __future__ import annotations

from enum import StrEnum

_ESTIMATES = (
    "the mark–recapture and depletion estimates "
    "<{conflict:?}contradict each other|are barely consistent> (tail probability of the "
    "difference {tail_probability:percent}): the mark–recapture estimate "
)


class Difference(StrEnum):
    """Which of the two estimates of abundance is the larger."""

    MORE_BY_MARKS = (
        f"{_ESTIMATES}exceeds the depletion estimate; likely causes: lost or overlooked marks, "
        "trap-shy marked fish, fish not vulnerable to the gear, fish leaving the lake, or local "
        "depletion around the nets"
    )
    MORE_BY_DEPLETION = (
        f"{_ESTIMATES}is below the depletion estimate; likely causes: trap-happy marked fish, "
        "incomplete mixing of marked with unmarked fish, fish entering the lake, or catches that "
        "rose for another reason"
    )


class FromPrior(StrEnum):
    """How much of an answer is prior."""

    NEARLY_ALL = (
        "the records hardly inform abundance: nearly all of its uncertainty ({shown}) comes from "
        "assumptions made before any record"
    )
    MUCH = (
        "These records say little about how many fish there were: {share:part} of the uncertainty "
        "({shown}) comes from assumptions about fish and nets that were made before any record."
    )
    SHARE = (
        "the prior determines {prior_share:part} ({prior_share:percent}, Monte-Carlo error "
        "{mc_error:percent}) of the uncertainty about the {quantity} of {lake} {season}<, mostly "
        "that of the {most}><{halved:?}; with all priors half as strong the probability of being "
        "below the threshold>< for {season_halved}><{halved:?} is {after:percent} instead of "
        "{before:percent}>"
    )
    KNOWN_EXACTLY = "abundance after the last pull is known exactly"
    ELUSIVE = (
        "{quantity}: the priors determine {share:part} of the uncertainty ({shown})<{outside:?}, "
        "yet the posterior median lies outside the prior's 90 % interval.|{nothing:?}; "
        "mark–recapture and depletion hold next to no information on it.|; the comparison of "
        "mark–recapture with depletion determines the rest.>"
    )
