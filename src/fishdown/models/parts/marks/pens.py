"""Marked fish kept in a pen after marking: how many lived, and how many kept their mark."""

from __future__ import annotations

from dataclasses import dataclass, field, fields
from typing import TYPE_CHECKING, Any

import numpy as np

from fishdown.equality import by_value
from fishdown.models.array_library import NUMPY
from fishdown.models.inputs import over
from fishdown.models.parts.marks.release_groups import by_lake
from fishdown.models.parts.marks.shedding import KINDS, still_marked
from fishdown.models.parts.marks.thinning import thinning_log_density

if TYPE_CHECKING:
    from fishdown.campaign import Campaign
    from fishdown.typing import FloatArray, Numbers


@by_value
@dataclass(frozen=True, eq=False)
class Pens[A]:
    """The pens of all batches of a campaign.

    Attributes
    ----------
    lived, died : ndarray, shape (lake,)
        Fish in pens alive at the end, and dead.
    marked, unmarked : ndarray, shape (lake, kind)
        Of those alive, by the kind of mark put on them: with and without a mark found again.
    """

    lived: A = field(metadata=over("lake", units="count"))
    died: A = field(metadata=over("lake", units="count"))
    marked: A = field(metadata=over("lake", "kind", units="count"))
    unmarked: A = field(metadata=over("lake", "kind", units="count"))

    def of_lake(self, lake: int) -> Pens[Any]:
        """Return the pens of one lake alone."""
        return Pens(**{one.name: getattr(self, one.name)[lake] for one in fields(self)})


def pens(campaign: Campaign) -> Pens[Numbers]:
    """Add up the pens of a campaign."""
    batches = campaign.batches
    alive, marked = batches["pen_alive"].values, batches["pen_marked"].values
    of_kind = [np.where(batches["mark"].values == kind, 1.0, 0.0) for kind in KINDS]

    def by_kind(fish: FloatArray) -> FloatArray:
        return np.stack([by_lake(campaign, fish * kind) for kind in of_kind], axis=1)

    return Pens(
        lived=by_lake(campaign, alive),
        died=by_lake(campaign, batches["penned"].values - alive),
        marked=by_kind(marked),
        unmarked=by_kind(alive - marked),
    )


def lived_log_density(kept: Pens[Any], survival: Any, *, xp: Any = NUMPY) -> Any:
    """Log-density of the fish alive at the end: binomial, each with the chance of survival."""
    return thinning_log_density(kept.lived, kept.died, _below_one(survival, xp), xp=xp)


def retained_log_density(
    kept: Pens[Any], clip_retention: Any, tag_retention: Any, *, xp: Any = NUMPY
) -> Any:
    """Log-density of the fish still marked among those alive: binomial by kind of mark.

    Retention is a number, or of shape (…, 1) with as many log-densities.
    """
    chance = still_marked(np.eye(len(KINDS)), clip_retention, tag_retention)
    left = _below_one(chance, xp)
    return thinning_log_density(kept.marked, kept.unmarked, left, xp=xp).sum(-1)


def _below_one(chance: Any, xp: Any) -> Any:
    # Beyond this the logarithm of the probability of loss is infinite in floating point.
    return xp.minimum(chance, 1.0 - 1e-12)
