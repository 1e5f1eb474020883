"""Bycatch against the limits of a permit: what was counted, and what pulls to come may bring."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from fishdown.bycatch_rates.net_days import relative_mesh
from fishdown.bycatch_rates.rates import DRAWS, FEWEST_EFFECTIVE
from fishdown.equality import by_value
from fishdown.intervals import low_median_high
from fishdown.labels import ALL_LAKES
from fishdown.records.tables import ALL, rows_of

if TYPE_CHECKING:
    from fishdown.bycatch_rates.estimates import BycatchEstimates
    from fishdown.typing import FloatArray

COLUMNS = (
    "species", "lake", "season", "fish", "limit", "counted", "pulls_not_counted", "state",
    "pulls_to_come", "total_low", "total_median", "total_high", "probability_above", "mc_error",
)  # fmt: skip
# state → what it means
STATES = {
    "kept": "the fish counted so far do not exceed the limit",
    "exceeded": "the fish counted so far exceed the limit",
    "not recorded": "the records do not tell how many there were",
}


@by_value
@dataclass(frozen=True)
class PullsToCome:
    """Pulls that are still to be made in each lake whose last season is the one in question.

    Attributes
    ----------
    count : int
    month : int or None
        Calendar month; by default that of the last pull of each lake.
    """

    count: int = 0
    month: int | None = None


def against_limits(found: BycatchEstimates, ahead: PullsToCome | None = None) -> pd.DataFrame:
    """Compare the bycatch with each limit of the records.

    Parameters
    ----------
    found : BycatchEstimates
    ahead : PullsToCome, optional
        By default none: only what was counted is compared.

    Returns
    -------
    pandas.DataFrame
        Columns `COLUMNS`, a row a limit: species ("all": of any species), lake, season, whether
        the limit is on all fish or on dead ones; fish counted in the season, void lifts included;
        pulls of the season whose bycatch was not counted; state (of `STATES`); pulls to come in
        all lakes concerned; the total of the season after these, with its 90 % interval; and the
        probability that it exceeds the limit, with its Monte-Carlo error. Numbers on pulls to
        come are missing without any, where the limit is exceeded already, and where the draws are
        too few.
    """
    limits = found.campaign.bycatch_limits
    if not limits.sizes.get("bycatch_limit"):
        return pd.DataFrame(columns=list(COLUMNS))
    so_far = _SoFar(found)
    draws = _DrawsAhead(found, so_far, ahead or PullsToCome())
    rows = [_against(so_far, draws, limit) for limit in rows_of(limits.to_dataframe())]
    return pd.DataFrame(rows, columns=list(COLUMNS))


def _against(so_far: _SoFar, draws: _DrawsAhead, limit: Any) -> dict[str, Any]:
    label, seasons = so_far.seasons(limit.lake, limit.label)
    dead = limit.fish == "dead"
    row: dict[str, Any] = dict.fromkeys(COLUMNS, np.nan)
    row |= {"species": limit.species, "season": label, "fish": limit.fish, "limit": limit.limit}
    row["lake"] = ALL_LAKES if limit.lake == ALL else limit.lake
    row["pulls_not_counted"] = sum(so_far.not_counted[season] for season in seasons)
    going_on = [season for season in seasons if season in so_far.going_on]
    row |= {"state": "not recorded", "pulls_to_come": len(going_on) * draws.ahead.count}
    counted = so_far.counted(limit.species, seasons, dead=dead)
    if counted is None:
        return row
    row |= {"counted": counted, "state": "exceeded" if counted > limit.limit else "kept"}
    more, effective = draws.of(limit.species, going_on, dead=dead)
    if row["state"] == "exceeded" or more is None or effective < FEWEST_EFFECTIVE:
        return row
    total = counted + more
    above = (float((total > limit.limit).sum()) + 0.5) / (len(total) + 1.0)
    row |= dict(
        zip(("total_low", "total_median", "total_high"), low_median_high(total), strict=True)
    )
    error = float(np.sqrt(above * (1.0 - above) / effective))
    return row | {"probability_above": above, "mc_error": error}


class _SoFar:
    """What was counted, season by season, to look up."""

    def __init__(self, found: BycatchEstimates) -> None:
        seasons, pulls = found.campaign.seasons, found.campaign.pulls
        self._of_label: dict[str, list[int]] = defaultdict(list)
        self._of_lake: dict[tuple[str, str], int] = {}
        self._last: dict[str, str] = {}
        days = seasons["last_day"].values
        keys = zip(seasons["lake"].values.tolist(), seasons["label"].values.tolist(), strict=True)
        for season, (lake, label) in enumerate(keys):
            self._of_label[label].append(season)
            self._of_lake[lake, label] = season
        for lake, season in found.campaign.last_seasons.items():
            self._last[lake] = str(seasons["label"].values[season])
        self._last[ALL] = str(seasons["label"].values[int(np.argmax(days))])
        self.going_on = set(found.campaign.last_seasons.values())
        index, known = pulls["season_index"].values, pulls["bycatch_counted"].values
        size = seasons.sizes["season"]
        self.not_counted = np.bincount(index[~known], minlength=size).tolist()
        entries = found.entries
        self._told = set(index[known].tolist()) | set(entries["season_index"].tolist())
        self.deaths_missing = set(entries.loc[~entries["noted"], "season_index"].tolist())
        self._totals: dict[tuple[int, str], tuple[float, float]] = defaultdict(lambda: (0.0, 0.0))
        columns = (entries[name] for name in ("season_index", "species", "count", "dead"))
        for season, name, count, dead in zip(*columns, strict=True):
            for species in (name, ALL):
                fish = self._totals[season, species]
                more = 0.0 if np.isnan(dead) else dead
                self._totals[season, species] = fish[0] + count, fish[1] + more

    def seasons(self, lake: str, label: str) -> tuple[str, list[int]]:
        """Return the label of a limit's season, and the positions of the seasons of lakes."""
        label = label or self._last.get(lake, "")
        if lake == ALL:
            return label, self._of_label[label]
        return label, [self._of_lake[lake, label]] if (lake, label) in self._of_lake else []

    def counted(self, species: str, seasons: list[int], *, dead: bool) -> float | None:
        """Return fish counted in seasons of lakes; None where that is not on record."""
        if not self._told & set(seasons) or (dead and self.deaths_missing & set(seasons)):
            return None
        return sum(self._totals[season, species][int(dead)] for season in seasons)

    def has_deaths(self, species: str, season: int) -> bool:
        """Return whether a season tells of the deaths of a species."""
        return self._totals[season, species][0] > 0 and season not in self.deaths_missing


class _DrawsAhead:
    """Fish in the pulls to come, drawn once for each species and season of a lake."""

    def __init__(self, found: BycatchEstimates, so_far: _SoFar, ahead: PullsToCome) -> None:
        self.found, self.so_far, self.ahead = found, so_far, ahead
        self._rng = np.random.default_rng(found.seed)
        self._drawn: dict[tuple[str, int, bool], FloatArray] = {}
        self._place = {season: column for column, season in enumerate(found.days.seasons)}
        pulls, mesh = found.campaign.pulls, relative_mesh(found.campaign)[0]
        month = pulls["date"].dt.month.values
        self._last: dict[int, tuple[int, float]] = {}
        # Pulls are in time order within each season.
        for place, season in enumerate(pulls["season_index"].values.tolist()):
            self._last[season] = (int(month[place]), float(mesh[place]))

    def of(
        self, species: str, seasons: list[int], *, dead: bool
    ) -> tuple[FloatArray | None, float]:
        """Return fish in the pulls to come of seasons of lakes, and how many draws they are worth.

        None without such pulls, and where deaths are not on record.
        """
        rates = self.found.rates
        names = list(rates) if species == ALL else [name for name in [species] if name in rates]
        if not (self.ahead.count and seasons and names):
            return None, 0.0
        if dead and any(name not in self.found.deaths for name in names):
            return None, 0.0
        total = np.zeros(DRAWS)
        for season in seasons:
            for name in names:
                total = total + self._draw(name, season, dead=dead)
        return total, min(rates[name].effective for name in names)

    def _draw(self, species: str, season: int, *, dead: bool) -> FloatArray:
        key = (species, season, dead)
        if key not in self._drawn:
            rates = self.found.rates[species]
            month, mesh = self._last[season]
            month = self.ahead.month or month
            mean = rates.of_pull(self._place.get(season), month, mesh, self._rng)
            draw = self._dead if dead else self._caught
            self._drawn[key] = draw(species, season, mean, rates.clumping)
        return self._drawn[key]

    def _caught(
        self, species: str, season: int, mean: FloatArray, clumping: FloatArray
    ) -> FloatArray:
        """Draw all fish: negative binomial with the size of all pulls together."""
        rng, pulls = self._rng, self.ahead.count
        caught: FloatArray = rng.poisson(rng.gamma(pulls * clumping, mean / clumping)).astype(float)
        return caught

    def _dead(
        self, species: str, season: int, mean: FloatArray, clumping: FloatArray
    ) -> FloatArray:
        """Draw dead fish, pull by pull, since fish of a pull die together."""
        rng = self._rng
        # A season that tells nothing of the species' deaths is one like the others.
        known = season if self.so_far.has_deaths(species, season) else -1
        share, correlation = self.found.deaths[species].draws(known, DRAWS, rng)
        size = (1.0 - correlation) / correlation
        dead = np.zeros(DRAWS)
        for _ in range(self.ahead.count):
            caught = rng.poisson(rng.gamma(clumping, mean / clumping))
            dead += rng.binomial(caught, rng.beta(share * size, (1.0 - share) * size))
        return dead
