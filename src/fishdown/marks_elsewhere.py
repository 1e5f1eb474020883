"""Marked fish that were seen in another lake than the one they were marked in, pair by pair."""

from __future__ import annotations

from collections import Counter, defaultdict
from typing import TYPE_CHECKING

import pandas as pd

from fishdown.formulas.limits import binomial_limits
from fishdown.intervals import INTERVAL
from fishdown.records.matching import batch_places
from fishdown.records.tables import rows_of
from fishdown.records.visits import code_of

if TYPE_CHECKING:
    import xarray as xr

    from fishdown.records.checked import Records

# Where the fish were marked (a batch of several lakes does not tell), and where they were seen.
type _Pair = tuple[tuple[str, ...], str]

ELSEWHERE_LABELS: dict[str, tuple[str | None, str]] = {
    "marked_in": (None, "lake in which the fish were marked"),
    "seen_in": (None, "other lake in which they were seen"),
    "marked_there": (
        "count",
        "marked fish released there alive, of batches not released in the other lake",
    ),
    "caught_here": ("count", "of them, fish recaptured in the other lake"),
    "heard_here": (
        "count",
        "of them, fish detected by antennas of the other lake and not recaptured there",
    ),
}


def marks_elsewhere(records: Records) -> pd.DataFrame:
    """Count marked fish seen in other lakes, for each pair of lakes that has any.

    A fish of a batch that was marked in the other lake, too, cannot be told from its own.

    Returns
    -------
    pandas.DataFrame
        Columns of `ELSEWHERE_LABELS`.
    """
    if not (len(records.recaptures) or len(records.detections)) or records.marked.empty:
        return pd.DataFrame(columns=list(ELSEWHERE_LABELS))
    places = {batch: tuple(sorted(lakes)) for batch, lakes in batch_places(records.marked).items()}
    caught, codes = _caught(records, places)
    heard = _heard(records, codes)
    found = [
        {
            "marked_in": " and ".join(homes),
            "seen_in": lake,
            "marked_there": _told_apart(records.marked, places, homes, lake),
            "caught_here": caught[homes, lake],
            "heard_here": heard[homes, lake],
        }
        for homes, lake in dict.fromkeys([*caught, *heard])
        if caught[homes, lake] + heard[homes, lake]
    ]
    return pd.DataFrame(found, columns=list(ELSEWHERE_LABELS))


def _caught(
    records: Records, places: dict[str, tuple[str, ...]]
) -> tuple[Counter[_Pair], dict[str, set[str]]]:
    """Count fish in catches by pair, and collect the codes of their tags by lake."""
    caught: Counter[_Pair] = Counter()
    codes: dict[str, set[str]] = defaultdict(set)
    rows = records.recaptures
    if rows.empty:
        return caught, codes
    rows = rows.assign(code=code_of(rows["tag_id"]))
    for row in rows_of(rows[rows["batch"].isin(list(places))]):
        if row.lake not in places[row.batch]:
            caught[places[str(row.batch)], str(row.lake)] += int(row.count)
            codes[str(row.lake)].add(row.code)
    return caught, codes


def _heard(records: Records, codes: dict[str, set[str]]) -> Counter[_Pair]:
    """Count tags that antennas heard, by pair; not those of fish in catches of that lake."""
    heard: Counter[_Pair] = Counter()
    if records.tags.empty or records.detections.empty:
        return heard
    reads = records.detections[["lake", "tag_id"]].drop_duplicates()
    reads = reads.assign(code=code_of(reads["tag_id"]))[["lake", "code"]].drop_duplicates()
    home = records.tags.assign(code=code_of(records.tags["tag_id"]))[["lake", "code"]]
    met = reads.merge(home.drop_duplicates("code"), on="code", suffixes=("", "_of"))
    for row in rows_of(met[met["lake"] != met["lake_of"]]):
        heard[(str(row.lake_of),), str(row.lake)] += row.code not in codes.get(row.lake, ())
    return heard


def seen_elsewhere(records: Records) -> xr.Dataset:
    """Return `marks_elsewhere` as arrays of dimension ``pair``."""
    # Checking records needs no arrays with labels, whose import takes a while.
    import xarray as xr

    table = marks_elsewhere(records)
    kinds = {name: "float64" if unit else "str" for name, (unit, _) in ELSEWHERE_LABELS.items()}
    return xr.Dataset({name: ("pair", table[name].to_numpy(kinds[str(name)])) for name in table})


def share_seen(seen: float, marked: float) -> tuple[float, float, float]:
    """Return the share of the marked fish that was seen, and its exact limits (90 %).

    Returns
    -------
    share, low, high : float
        See `fishdown.formulas.limits.binomial_limits`.
    """
    # Fish put back may be seen again.
    marked = max(int(marked), 1)
    count = min(int(seen), marked)
    return (count / marked, *binomial_limits(count, marked, INTERVAL))


def elsewhere_lines(records: Records) -> list[str]:
    """Say of each pair of lakes which marked fish of the one were seen in the other."""
    lines = []
    for row in rows_of(marks_elsewhere(records)):
        seen = row.caught_here + row.heard_here
        share, low, high = (100.0 * one for one in share_seen(seen, row.marked_there))
        how = [
            words
            for number, words in (
                (row.caught_here, f"{row.caught_here:,} in catches"),
                (row.heard_here, f"{row.heard_here:,} heard by antennas"),
            )
            if number
        ]
        lines.append(
            f"Marks of {row.marked_in} seen in {row.seen_in}: {seen:,} "
            f"of {row.marked_there:,} ({' and '.join(how)}), {share:.1f} % (90 % exact limits "
            f"{low:.1f} to {high:.1f} %). At least so many moved; no estimate uses it: these fish "
            f"count as unmarked in {row.seen_in}, and as still there in {row.marked_in}."
        )
    return lines


def _told_apart(
    marked: pd.DataFrame, places: dict[str, tuple[str, ...]], homes: tuple[str, ...], lake: str
) -> int:
    """Count the fish marked alive in some lakes whose batch was not marked in another lake."""
    foreign = [batch for batch, lakes in places.items() if lake not in lakes]
    mine = marked[marked["lake"].isin(homes) & marked["batch"].isin(foreign)]
    return int((mine["released"] - mine["died"]).sum())
