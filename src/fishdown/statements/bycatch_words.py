"""Bycatch in plain words: limits, species never counted, and what is taken for granted."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import pandas as pd

from fishdown.bycatch_rates.design import LOG_CLUMPING
from fishdown.bycatch_rates.unseen import most_pulls_with
from fishdown.labels import season_label
from fishdown.records.tables import ALL, rows_of
from fishdown.words import amount, counted, likelihood_words, percent_with_error

if TYPE_CHECKING:
    from collections.abc import Iterator

NONE_ON_RECORD = "No bycatch is on record. Either there was none, or it was not recorded."


def bycatch_sentences(species: pd.DataFrame, limits: pd.DataFrame, pulls: int) -> list[str]:
    """Say how the bycatch stands to its limits, and what can be said of species never counted.

    Parameters
    ----------
    species, limits : pandas.DataFrame
        From `fishdown.statements.bycatch.by_species` and
        `fishdown.statements.bycatch_limits.against_limits`.
    pulls : int
        Pulls that were not void and whose bycatch was counted.
    """
    sentences = [] if (species["count"] > 0).any() else [_none(pulls)]
    sentences += [_of_limit(row) for row in rows_of(limits)]
    sentences += list(_never_counted(species))
    if limits["probability_above"].notna().any():
        sentences.append(
            "Pulls to come are taken to be like those of the lake's season so far, in the month "
            "asked for or that of its last pull, with the mesh of its last pull, and not void."
        )
    if (limits["counted"].notna() & (limits["pulls_not_counted"] > 0)).any():
        sentences.append(
            "Where the bycatch of pulls was not counted, the fish counted are fewer than those "
            "caught."
        )
    return sentences


def _none(pulls: int) -> str:
    if not pulls:
        return NONE_ON_RECORD
    most = amount(100.0 * most_pulls_with(pulls))
    return (
        f"No bycatch in {counted(pulls, 'counted pull')}: the upper 95 % bound is {most} % of "
        "pulls with any."
    )


def _of_limit(row: Any) -> str:
    name = "all species" if row.species == ALL else row.species
    dead = "dead " if row.fish == "dead" else ""
    lead = f"{name}, {season_label(row.lake, row.season)}: "
    limit = f"the limit is {counted(row.limit, f'{dead}fish', f'{dead}fish')}"
    if row.state == "not recorded":
        what = "dead fish" if row.fish == "dead" else "bycatch"
        return f"{lead}{limit}; the {what} of the season was not recorded."
    fish = f"{counted(row.counted, f'{dead}fish', f'{dead}fish')} counted"
    if row.pulls_not_counted:
        fish += f" (bycatch of {counted(row.pulls_not_counted, 'pull')} not counted)"
    if row.state == "exceeded":
        return f"{lead}{fish}; {limit} and is exceeded."
    words = f"{lead}{fish}; {limit}."
    if not row.pulls_to_come:
        return words
    pulls = counted(row.pulls_to_come, "more pull")
    if pd.isna(row.probability_above):
        return f"{words} No probability can be stated for {pulls}."
    total = counted(row.total_median, f"{dead}fish", f"{dead}fish")
    total += f" (90 % interval {row.total_low:,.0f} to {row.total_high:,.0f})"
    chance = percent_with_error(row.probability_above, row.mc_error)
    return (
        f"{words} With {pulls} the season's total is predicted at {total}; it is "
        f"{likelihood_words(row.probability_above)} to exceed the limit ({chance})."
    )


def _never_counted(species: pd.DataFrame) -> Iterator[str]:
    for row in rows_of(species[(species["count"] == 0) & (species["pulls"] > 0)]):
        if not pd.isna(row.per_pull_median):
            continue
        most = 100.0 * most_pulls_with(row.pulls)
        yield (
            f"{row.species}: none in {counted(row.pulls, 'counted pull')}. The upper 95 % bound is "
            f"{amount(most)} % of pulls with any, and {amount(row.per_pull_high)} fish per pull if "
            f"the fish are as clumped as is usual (k = {math.exp(LOG_CLUMPING[0]):.1f})."
        )
