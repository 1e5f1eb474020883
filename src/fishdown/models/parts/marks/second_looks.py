"""Marked fish that a first look overlooked: the detection of marks, by second looks.

Both looks find a marked fish with the same probability d, independently of each other. Of the fish
found at all a share of (1 − d)/(2 − d) was then found at the second look only.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from fishdown.equality import by_value
from fishdown.models.array_library import NUMPY
from fishdown.models.inputs import over
from fishdown.models.parts.marks.thinning import thinning_log_density

if TYPE_CHECKING:
    from fishdown.campaign import Campaign
    from fishdown.typing import Numbers


@by_value
@dataclass(frozen=True, eq=False)
class SecondLooks[A]:
    """The fish of a campaign that were looked at twice.

    Attributes
    ----------
    first, second_only : ndarray, shape ()
        Marked fish that the first look found, and that only the second did.
    """

    first: A = field(metadata=over(units="count"))
    second_only: A = field(metadata=over(units="count"))


def second_looks(campaign: Campaign) -> SecondLooks[Numbers]:
    """Add up the second looks of a campaign."""
    seasons = campaign.seasons
    return SecondLooks(
        first=np.array(float(seasons["found_first"].values.sum())),
        second_only=np.array(float(seasons["found_second"].values.sum())),
    )


def looked_twice(campaign: Campaign) -> bool:
    """Return whether any marked fish was found where fish were looked at twice."""
    looks = second_looks(campaign)
    return bool(looks.first + looks.second_only > 0)


def second_looks_log_density(looks: SecondLooks[Any], detection: Any, *, xp: Any = NUMPY) -> Any:
    """Log-density of the fish that only the second look found, given those found at all.

    Binomial with (1 − d)/(2 − d); its maximum is at d = 1 − second / first, the two-catch estimate
    of Seber and Le Cren 1967 (J. Anim. Ecol. 36:631–643; from memory).

    Parameters
    ----------
    looks : SecondLooks
    detection : array or tensor
        d.
    xp : module
        The array library in use.
    """
    # Beyond this the logarithm of the probability to be overlooked is infinite in floating point.
    missed = xp.maximum(1.0 - detection, 1e-12)
    return thinning_log_density(looks.first, looks.second_only, 1.0 / (1.0 + missed), xp=xp)
