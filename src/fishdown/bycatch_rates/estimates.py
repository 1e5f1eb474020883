"""The bycatch of a campaign: rates and dead shares of all species, estimated once."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from fishdown.bycatch_rates.deaths import DeadShare, dead_share
from fishdown.bycatch_rates.net_days import NetDays, entries_of, net_days
from fishdown.bycatch_rates.rates import Rates, fit_rates
from fishdown.equality import by_value
from fishdown.records.tables import ALL

if TYPE_CHECKING:
    import pandas as pd

    from fishdown.campaign import Campaign
    from fishdown.typing import FloatArray


@by_value
@dataclass(frozen=True)
class BycatchEstimates:
    """What the records say of the bycatch.

    Attributes
    ----------
    campaign : Campaign
    entries : pandas.DataFrame
        Rows of bycatch, with ``noted``: whether the row tells of deaths, none included.
    days : NetDays
    rates : dict of str to Rates
        By species, counted or named in a limit; empty without a counted pull.
    target : Rates or None
        Of the species that is removed.
    deaths : dict of str to DeadShare
        By species; those without an entry of the dead have that of all bycatch together, and none
        has any where no death was ever entered.
    seed : int
    """

    campaign: Campaign
    entries: pd.DataFrame
    days: NetDays
    rates: dict[str, Rates]
    target: Rates | None
    deaths: dict[str, DeadShare]
    seed: int

    @cached_property
    def per_pull(self) -> dict[str, FloatArray]:
        """Fish a pull of each species, draw by draw, the removed one under the empty name.

        Of shape (draw, season + 1): each season averaged over its pulls, in the last column all.
        """
        if self.target is None:
            return {}
        place = {season: column for column, season in enumerate(self.days.seasons)}
        column = self.days.cells["season"].map(place)
        pulls = np.bincount(column, weights=self.days.cell_pulls)
        found = {}
        for name, rates in {**self.rates, "": self.target}.items():
            rate = rates.by_season()
            found[name] = np.column_stack([rate, rate @ (pulls / pulls.sum())])
        return found

    @cached_property
    def all_fish(self) -> FloatArray:
        """Fish a pull of all species together, shape (draw, season + 1)."""
        total: FloatArray = np.sum(list(self.per_pull.values()), axis=0)
        return total


def estimate_bycatch(campaign: Campaign, *, seed: int = 1) -> BycatchEstimates:
    """Estimate the rates and dead shares of the bycatch, species by species.

    Parameters
    ----------
    campaign : Campaign
    seed : int
        Of the random numbers.

    Returns
    -------
    BycatchEstimates
    """
    days, entries = net_days(campaign), entries_of(campaign)
    entries = entries[entries["season_index"] >= 0]
    noted = entries.groupby("season_index")["dead"].transform(lambda dead: dead.notna().any())
    entries = entries.assign(noted=noted.astype(bool))
    species = sorted({*entries["species"], *named_in_limits(campaign)})
    rates: dict[str, Rates] = {}
    target = None
    if len(days.pulls):
        none = np.zeros(len(days.pulls))
        for place, name in enumerate(species):
            rates[name] = fit_rates(days, days.counts.get(name, none), seed=_seed(seed, place))
        target = fit_rates(days, days.target, seed=_seed(seed, len(species)))
    return BycatchEstimates(
        campaign=campaign,
        entries=entries,
        days=days,
        rates=rates,
        target=target,
        deaths=_deaths(entries[entries["noted"]], species, campaign.seasons.sizes["season"]),
        seed=seed,
    )


def named_in_limits(campaign: Campaign) -> list[str]:
    """Return the species that limits name, each once."""
    if "species" not in campaign.bycatch_limits:
        return []
    return sorted(set(campaign.bycatch_limits["species"].values.tolist()) - {ALL})


def _deaths(entries: pd.DataFrame, species: list[str], seasons: int) -> dict[str, DeadShare]:
    if not len(entries):
        return {}
    together = _dead_share(entries, seasons)
    found = {}
    for name in species:
        mine = entries[entries["species"] == name]
        found[name] = _dead_share(mine, seasons) if mine["count"].sum() else together
    return found


def _dead_share(entries: pd.DataFrame, seasons: int) -> DeadShare:
    # Where a season has any entry of the dead, an empty one is none.
    return dead_share(
        entries["dead"].fillna(0.0).to_numpy(dtype=float),
        entries["count"].to_numpy(dtype=float),
        entries["season_index"].to_numpy(dtype=np.int64),
        seasons,
    )


def _seed(seed: int, place: int) -> int:
    return int(np.random.SeedSequence([seed, place]).generate_state(1)[0])
