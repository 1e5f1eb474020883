"""How mark–recapture and depletion differ: each code with its sentence, and nowhere else."""

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
