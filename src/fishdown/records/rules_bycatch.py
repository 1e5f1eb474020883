"""Rules on bycatch: counts that add up, and limits that can be compared with them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pandas as pd

from fishdown.records.codes import Odd, Wrong
from fishdown.records.matching import pulls_meant
from fishdown.records.problems import Suggestions
from fishdown.records.settings import COMMON_CARP_NAMES, is_common_carp
from fishdown.records.tables import ALL, rows_of
from fishdown.records.unread import is_species

if TYPE_CHECKING:
    from collections.abc import Iterator

    from fishdown.records.draft import Draft
    from fishdown.records.problems import Problem


def dead_above_count(draft: Draft) -> Iterator[Problem]:
    """Find bycatch of which more is dead than was caught."""
    bycatch = draft.frames["bycatch"]
    for catch in rows_of(bycatch[bycatch["dead"] > bycatch["count"]]):
        yield draft.problem(Wrong.DEAD_ABOVE_COUNT, "bycatch", catch, "dead")


def bycatch_not_counted(draft: Draft) -> Iterator[Problem]:
    """Find pulls whose bycatch is on record and said not to have been counted."""
    told: set[int] = set()
    pulls = draft.frames["pulls"]
    not_counted = pulls[~pulls["bycatch_counted"].fillna(value=True)]
    if not len(not_counted):
        return
    for row, found in pulls_meant(draft.frames["bycatch"], pulls):
        for pull in found:
            # Of several pulls of a net on one day, the row may be of another.
            if any(pd.isna(one.bycatch_counted) or one.bycatch_counted for one in found):
                continue
            if pull.row not in told:
                told.add(pull.row)
                at = ("pulls", pull, "bycatch_counted")
                yield draft.problem(Wrong.BYCATCH_NOT_COUNTED, *at, entry=row.row)


def limits_given_twice(draft: Draft) -> Iterator[Problem]:
    """Find limits with more than one row."""
    first: dict[tuple[Any, ...], int] = {}
    for limit in rows_of(draft.frames["bycatch_limits"]):
        key = (limit.species, limit.lake, limit.season, limit.fish)
        if not (limit.species and limit.lake and limit.fish):
            continue
        if key in first:
            at = ("bycatch_limits", limit, "species")
            yield draft.problem(Wrong.LIMIT_TWICE, *at, first=first[key])
        first.setdefault(key, limit.row)


def species_named_twice(draft: Draft) -> Iterator[Problem]:
    """Find species with more than one scientific name."""
    first: dict[str, int] = {}
    for row in rows_of(draft.frames["species_names"]):
        if row.species in first:
            at = ("species_names", row, "species")
            yield draft.problem(Wrong.SPECIES_TWICE, *at, first=first[row.species])
        if row.species:
            first.setdefault(row.species, row.row)


def limits_of_the_target(draft: Draft) -> Iterator[Problem]:
    """Find limits on the species that is to be removed."""
    if draft.settings is None:
        return
    species = draft.settings.species
    also = COMMON_CARP_NAMES if is_common_carp(species) else ()
    for limit in rows_of(draft.frames["bycatch_limits"]):
        if limit.species and limit.species != ALL and is_species(limit.species, species, also):
            yield draft.problem(Odd.LIMIT_OF_TARGET, "bycatch_limits", limit, "species")


def limits_of_misspelt_species(draft: Draft) -> Iterator[Problem]:
    """Find limits on a species that was never caught, while one of a like name was."""
    known = set(draft.frames["bycatch"]["species"]) - {""}
    suggestions = Suggestions(sorted(known))
    for limit in rows_of(draft.frames["bycatch_limits"]):
        if limit.species in known or limit.species in ("", ALL):
            continue
        like = suggestions.of(limit.species)
        if like is not None:
            at = ("bycatch_limits", limit, "species")
            yield draft.problem(Odd.LIMIT_OF_LIKE_SPECIES, *at, like=like)


def limits_of_unknown_season(draft: Draft) -> Iterator[Problem]:
    """Find limits for a season in which the lake has no pull."""
    if not draft.whole("pulls"):
        return
    pulls = draft.frames["pulls"]
    of_lake = {str(lake): set(rows) for lake, rows in pulls.groupby("lake")["season"]}
    of_lake[ALL] = set(pulls["season"])
    for limit in rows_of(draft.frames["bycatch_limits"]):
        seasons = of_lake.get(limit.lake)
        if limit.season and seasons and limit.season not in seasons:
            at = ("bycatch_limits", limit, "season")
            yield draft.problem(Odd.LIMIT_OF_UNKNOWN_SEASON, *at, seasons=sorted(seasons))


def limits_on_dead_fish(draft: Draft) -> Iterator[Problem]:
    """Find limits on dead fish where no death of bycatch could be entered."""
    bycatch = draft.frames["bycatch"]
    if not len(bycatch) or bycatch["dead"].notna().any():
        return
    for limit in rows_of(draft.frames["bycatch_limits"]):
        if limit.fish == "dead":
            yield draft.problem(Odd.DEAD_NOT_RECORDED, "bycatch_limits", limit, "fish")
            return
