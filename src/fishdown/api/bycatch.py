"""The bycatch of a campaign from its records alone: `fishdown.bycatch`."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from fishdown.bycatch_rates.estimates import estimate_bycatch
from fishdown.campaign import Campaign, read
from fishdown.equality import by_value
from fishdown.statements.bycatch import by_month_and_mesh, by_species
from fishdown.statements.bycatch_limits import PullsToCome, against_limits
from fishdown.statements.bycatch_words import bycatch_sentences

if TYPE_CHECKING:
    import os

    import pandas as pd


@by_value
@dataclass(frozen=True)
class Bycatch:
    """The bycatch of a campaign.

    Attributes
    ----------
    frame : pandas.DataFrame
        Counts, rates, shares and deaths by lake, season and species; see
        `fishdown.statements.bycatch.by_species`.
    effects : pandas.DataFrame
        Ratios of rates between months and for the mesh; see
        `fishdown.statements.bycatch.by_month_and_mesh`.
    limits : pandas.DataFrame
        Each limit with what was counted and what pulls to come may bring; see
        `fishdown.statements.bycatch_limits.against_limits`.
    pulls : int
        Pulls that were not void and whose bycatch was counted.
    told : bool
        Whether there were enough effective draws for every species.
    """

    frame: pd.DataFrame
    effects: pd.DataFrame
    limits: pd.DataFrame
    pulls: int
    told: bool

    def sentences(self) -> list[str]:
        """Say how the bycatch stands to its limits, in plain words."""
        return bycatch_sentences(self.frame, self.limits, self.pulls)


def bycatch(
    records: Campaign | str | os.PathLike[str],
    *,
    pulls: int = 0,
    month: int | None = None,
    seed: int = 1,
) -> Bycatch:
    """Estimate the bycatch of a campaign, and compare it with the limits of its permit.

    Parameters
    ----------
    records : Campaign, str or path-like
        A campaign, or the folder or workbook of one.
    pulls : int
        Pulls to come in each lake; 0 to compare what was counted so far.
    month : int, optional
        Calendar month of these pulls, 1 to 12; by default that of the last pull of each lake.
    seed : int
        Of the random numbers.

    Returns
    -------
    Bycatch

    Raises
    ------
    RecordsError
        If the records have problems; every problem is listed.
    """
    campaign = records if isinstance(records, Campaign) else read(records)
    found = estimate_bycatch(campaign, seed=seed)
    every = [*found.rates.values(), *([found.target] if found.target is not None else [])]
    return Bycatch(
        frame=by_species(found),
        effects=by_month_and_mesh(found),
        limits=against_limits(found, PullsToCome(pulls, month)),
        pulls=int(found.days.pulls.sum()),
        told=all(rates.told for rates in every),
    )
