"""Bycatch by species: what was counted, its rate, its share of all fish, and how much was dead.

The mathematics is under "Bycatch" in `models/README.md`.

Crews mostly write only deaths. If any row of a season has an entry of the dead, an empty one counts
as none dead, whatever its species (common practice, no source), and the table says how many were
empty; if no row has one, deaths are unknown.
"""

from __future__ import annotations

import calendar
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from fishdown.bycatch_rates.rates import DRAWS
from fishdown.bycatch_rates.unseen import most_per_pull
from fishdown.intervals import low_median_high
from fishdown.labels import ALL_LAKES, ALL_SEASONS
from fishdown.records.tables import rows_of

if TYPE_CHECKING:
    from fishdown.bycatch_rates.estimates import BycatchEstimates
    from fishdown.typing import FloatArray

_ENDS = ("low", "median", "high")
_RATE, _SHARE, _DEAD = (
    tuple(f"{name}_{end}" for end in _ENDS) for name in ("per_pull", "share", "dead_share")
)
COLUMNS = (
    "lake", "season", "species", "count", "pulls", *_RATE, *_SHARE, "dead", "dead_empty", *_DEAD
)  # fmt: skip
EFFECT_COLUMNS = ("species", "effect", "level", "ratio_low", "ratio_median", "ratio_high")
_UNKNOWN = np.full(3, np.nan)


def by_species(found: BycatchEstimates) -> pd.DataFrame:
    """Tabulate the bycatch of each season by species, the most numerous first.

    Parameters
    ----------
    found : BycatchEstimates

    Returns
    -------
    pandas.DataFrame
        Columns `COLUMNS`: fish counted; pulls that were not void and whose bycatch was counted;
        mean fish a pull, and share in all fish of those pulls, with their 90 % intervals; fish
        dead, rows whose entry of the dead is empty and counts as none, and the dead share of the
        fish counted with its 90 % interval (all missing where the season has no entry of the dead
        at all). With several seasons of lakes the last rows are all of them together. A species
        that was never counted has the upper bound of fish a pull alone
        (`fishdown.bycatch_rates.unseen`). What rests on too few effective draws is missing.
    """
    place = {season: column for column, season in enumerate(found.days.seasons)}
    pulls = np.bincount(
        found.days.cells["season"].map(place).to_numpy(dtype=int),
        weights=found.days.cell_pulls,
        minlength=len(place),
    )
    seasons = found.campaign.seasons
    totals = found.entries.groupby(["season_index", "species"], sort=True).agg(
        count=("count", "sum"), dead=("dead", "sum"),
        empty=("dead", lambda dead: dead.isna().sum()), noted=("noted", "first"),
    )  # fmt: skip
    rows: list[dict[str, Any]] = []
    ever = totals.groupby("species")["count"].sum()
    for entry in rows_of(totals.reset_index()):
        season, name = int(entry.season_index), str(entry.species)
        # Where rows of 0 are all there is, the bound below says what can be said.
        if not ever[name]:
            continue
        column = place.get(season)
        dead = found.deaths[name].points(season) if entry.noted and entry.count else _UNKNOWN
        rows.append(
            {
                "lake": str(seasons["lake"].values[season]),
                "season": str(seasons["label"].values[season]),
                "species": name,
                "count": float(entry.count),
                "pulls": 0.0 if column is None else float(pulls[column]),
                **_rate_and_share(found, name, column),
                "dead": float(entry.dead) if entry.noted else np.nan,
                "dead_empty": float(entry.empty) if entry.noted else np.nan,
                **dict(zip(_DEAD, dead, strict=True)),
                "place": season,
            }
        )
    several = seasons.sizes["season"] > 1
    all_seasons = {str(name): mine for name, mine in totals.groupby("species")}
    for name in sorted({*all_seasons, *found.rates}):
        mine = all_seasons.get(name)
        if mine is None or several or not ever[name]:
            rows.append(_together(found, name, mine, float(pulls.sum())))
    table = pd.DataFrame(rows, columns=[*COLUMNS, "place"])
    table = table.sort_values(["place", "count", "species"], ascending=[True, False, True])
    return table[list(COLUMNS)].reset_index(drop=True)


def _together(
    found: BycatchEstimates, name: str, mine: pd.DataFrame | None, pulls: float
) -> dict[str, Any]:
    """Return the row of a species over all seasons of lakes."""
    row: dict[str, Any] = dict.fromkeys(COLUMNS, np.nan)
    row |= {"lake": ALL_LAKES, "season": ALL_SEASONS, "species": name, "count": 0.0, "pulls": pulls}
    row["place"] = found.campaign.seasons.sizes["season"]
    count = 0.0 if mine is None else float(mine["count"].sum())
    if mine is None or not count:
        if pulls:
            row |= {"per_pull_low": 0.0, "per_pull_high": most_per_pull(pulls)}
        return row
    row |= {"count": count, **_rate_and_share(found, name, -1)}
    noted = mine[mine["noted"].astype(bool) & (mine["count"] > 0)]
    if not len(noted):
        return row
    row |= {"dead": float(noted["dead"].sum()), "dead_empty": float(noted["empty"].sum())}
    rng = np.random.default_rng(found.seed)
    share = np.zeros(DRAWS)
    seasons = noted.index.get_level_values("season_index")
    for season, fish in zip(seasons, noted["count"], strict=True):
        share += fish * found.deaths[name].draws(int(season), DRAWS, rng)[0]
    points = low_median_high(share / noted["count"].sum())
    return row | dict(zip(_DEAD, points, strict=True))


def _rate_and_share(found: BycatchEstimates, name: str, column: int | None) -> dict[str, float]:
    rate = share = _UNKNOWN
    if column is not None and name in found.rates and found.rates[name].told:
        rate = low_median_high(found.per_pull[name][:, column])
        if found.target is not None and found.target.told:
            share = low_median_high(found.per_pull[name][:, column] / found.all_fish[:, column])
    return dict(zip((*_RATE, *_SHARE), (*rate, *share), strict=True))


def by_month_and_mesh(found: BycatchEstimates) -> pd.DataFrame:
    """Tabulate how the rate of each species differs between months and with the mesh.

    Parameters
    ----------
    found : BycatchEstimates

    Returns
    -------
    pandas.DataFrame
        Columns `EFFECT_COLUMNS`: species; "month" and the name of the month, as a ratio to the
        average month on record; or "mesh" and "twice the mesh size", as the ratio for that; each
        with its 90 % interval. No species that was never counted, and neither of the two where the
        records have one month, or one mesh size.
    """
    rows: list[tuple[Any, ...]] = []
    for name, rates in found.rates.items():
        if not (rates.told and rates.design.fish.any()):
            continue
        design = rates.design
        effects: list[tuple[str, str, FloatArray]] = []
        if design.months:
            months = rates.coefficients[:, design.first_month :]
            ratio = np.exp(months - months.mean(axis=1, keepdims=True))
            effects += [
                ("month", calendar.month_name[month], ratio[:, column])
                for column, month in enumerate(design.months)
            ]
        if design.mesh_varies:
            effects.append(("mesh", "twice the mesh size", np.exp(rates.coefficients[:, 1])))
        rows += [(name, effect, level, *low_median_high(draws)) for effect, level, draws in effects]
    return pd.DataFrame(rows, columns=list(EFFECT_COLUMNS))


def species_of(table: pd.DataFrame) -> list[str]:
    """Return the species of a table of bycatch, the most numerous over all seasons first."""
    totals = {row.species: 0.0 for row in rows_of(table)}
    for row in rows_of(table[table["lake"] != ALL_LAKES]):
        totals[row.species] += row.count
    return sorted(totals, key=lambda species: (-totals[species], species))
