"""From an antenna's reads to visits: one tag at one antenna, without a long pause."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from fishdown.equality import by_value
from fishdown.records.tables import TEXT
from fishdown.words import counted

if TYPE_CHECKING:
    from fishdown.records.checked import Records

# A fish that feeds at the bait passes the antenna every few minutes (common practice, no source).
PAUSE_MINUTES = 10.0
# No fish stays within reach of an antenna for a day and a night without a pause; a tag that was
# shed there does (common practice, no source).
LONGEST_VISIT_HOURS = 24.0
_NOT_OF_CODE = re.compile(r"[^0-9A-Z]")


@by_value
@dataclass(frozen=True)
class Heard:
    """What the antennas of a campaign heard.

    Attributes
    ----------
    visits : pandas.DataFrame
        Of our tags at antennas of the lake they were released in, at large: lake, net, tag_id (as
        in the table of tags, if there is one), batch, start, end (UTC), local_start, local_end,
        night (the local date of its noon before), reads, in_place. Sorted by lake, net, tag and
        time. Without a table of tags every tag read more than once is taken for ours.
    nights : pandas.DataFrame
        Nights on which an antenna read any tag: lake, net, night.
    told_apart : bool
        Whether there is a table of tags, so that ours are known.
    reads, doubled : int
        Reads without those that are given twice, and how many were.
    ghosts : int
        Reads of codes that are not ours and came once.
    foreign_tags, foreign_reads : int
        Tags that are not ours and were read more than once.
    strayed_tags, strayed_reads : int
        Our tags at antennas of another lake than the one they were released in.
    before_release : int
        Reads of our tags before their fish was released.
    """

    visits: pd.DataFrame
    nights: pd.DataFrame
    told_apart: bool
    reads: int
    doubled: int
    ghosts: int
    foreign_tags: int
    foreign_reads: int
    strayed_tags: int
    strayed_reads: int
    before_release: int


def code_of(tags: pd.Series[str]) -> pd.Series[str]:
    """Return the codes of tags without the signs and cases in which programs write them apart.

    "3D9.1BF2", "3d9 1bf2" and "3D91BF2" are one tag.
    """
    unique = tags.drop_duplicates()
    codes = {tag: _NOT_OF_CODE.sub("", tag.upper()) or tag for tag in unique}
    return tags.map(codes).astype(TEXT)


def heard(records: Records, pause_minutes: float = PAUSE_MINUTES) -> Heard:
    """Turn the reads of all antennas into visits of our tags.

    Parameters
    ----------
    pause_minutes : float
        Two reads of a tag at one antenna further apart belong to two visits.
    """
    return heard_in(records.detections, records.tags, released_on(records.marked), pause_minutes)


def released_on(marked: pd.DataFrame) -> pd.DataFrame:
    """Return the first day on which each batch of each lake was released: lake, batch, released."""
    if marked.empty:
        return pd.DataFrame({"lake": [], "batch": [], "released": []})
    days = marked.groupby(["lake", "batch"])["date"].min()
    return days.rename("released").reset_index()


def heard_in(
    detections: pd.DataFrame,
    tags: pd.DataFrame,
    released: pd.DataFrame,
    pause_minutes: float = PAUSE_MINUTES,
) -> Heard:
    """Return the same from the tables concerned.

    Parameters
    ----------
    detections, tags : pandas.DataFrame
        As in `Records`.
    released : pandas.DataFrame
        From `released_on`.
    pause_minutes : float
    """
    told_apart = len(tags) > 0
    if not len(detections):
        return Heard(_no_visits(), _no_nights(), told_apart, *[0] * 8)
    reads = detections.assign(code=code_of(detections["tag_id"]))
    whole = len(reads)
    reads = reads.drop_duplicates(["time", "lake", "net", "code"])
    night = (reads["local"] - pd.Timedelta(hours=12)).dt.normalize()
    nights = pd.DataFrame({"lake": reads["lake"], "net": reads["net"], "night": night})
    nights = nights.drop_duplicates().sort_values(["lake", "net", "night"], ignore_index=True)
    times_read = reads.groupby("code")["row"].transform("size").to_numpy()
    if told_apart:
        known = tags.assign(code=code_of(tags["tag_id"])).merge(
            released, on=["lake", "batch"], how="left"
        )
        known = known.drop_duplicates("code").rename(columns={"lake": "home"})
        known = known[["code", "home", "batch", "tag_id", "released"]]
        reads = reads.drop(columns="tag_id").merge(known, on="code", how="left")
        ours = reads["home"].notna().to_numpy()
        away = ours & (reads["home"] != reads["lake"]).to_numpy(dtype=bool)
        early = ours & ~away & (reads["local"].dt.normalize() < reads["released"]).to_numpy()
    else:
        reads = reads.assign(batch="")
        ours = times_read > 1
        away = early = np.zeros(len(reads), dtype=bool)
    foreign = ~ours & (times_read > 1)
    counts = {
        "reads": len(reads),
        "doubled": whole - len(reads),
        "ghosts": int((~ours & (times_read == 1)).sum()),
        "foreign_tags": int(reads.loc[foreign, "code"].nunique()),
        "foreign_reads": int(foreign.sum()),
        "strayed_tags": int(reads.loc[away, "code"].nunique()),
        "strayed_reads": int(away.sum()),
        "before_release": int(early.sum()),
    }
    kept = reads[ours & ~away & ~early]
    return Heard(_visits(kept, pause_minutes), nights, told_apart, **counts)


def _visits(reads: pd.DataFrame, pause_minutes: float) -> pd.DataFrame:
    if reads.empty:
        return _no_visits()
    reads = reads.sort_values(["lake", "net", "code", "time"], kind="stable")
    same = np.ones(len(reads) - 1, dtype=bool)
    for column in ("lake", "net", "code"):
        number = pd.factorize(reads[column])[0]
        same &= number[1:] == number[:-1]
    time = reads["time"].dt.tz_localize(None).to_numpy("datetime64[us]")
    pause = np.diff(time) > np.timedelta64(round(pause_minutes * 60e6), "us")
    first = np.flatnonzero(np.concatenate([[True], ~same | pause]))
    last = np.concatenate([first[1:], [len(reads)]]) - 1
    begun, ended = reads.iloc[first], reads.iloc[last]
    visits = begun[["lake", "net", "tag_id", "batch"]].reset_index(drop=True)
    visits["start"], visits["end"] = begun["time"].array, ended["time"].array
    visits["local_start"], visits["local_end"] = begun["local"].array, ended["local"].array
    visits["night"] = (visits["local_start"] - pd.Timedelta(hours=12)).dt.normalize()
    visits["reads"] = np.diff(np.concatenate([first, [len(reads)]]))
    stayed = visits["end"] - visits["start"]
    visits["in_place"] = stayed > pd.Timedelta(hours=LONGEST_VISIT_HOURS)
    return visits


def _no_visits() -> pd.DataFrame:
    words = {name: pd.Series([], dtype=TEXT) for name in ("lake", "net", "tag_id", "batch")}
    moments = {name: pd.Series([], dtype="datetime64[us, UTC]") for name in ("start", "end")}
    local = {
        name: pd.Series([], dtype="datetime64[us]")
        for name in ("local_start", "local_end", "night")
    }
    rest = {"reads": pd.Series([], dtype="int64"), "in_place": pd.Series([], dtype="bool")}
    return pd.DataFrame(words | moments | local | rest)


def _no_nights() -> pd.DataFrame:
    names = {name: pd.Series([], dtype=TEXT) for name in ("lake", "net")}
    return pd.DataFrame(names | {"night": pd.Series([], dtype="datetime64[us]")})


def heard_lines(records: Records, found: Heard | None = None) -> list[str]:
    """Say in two or three lines what the antennas heard; nothing without detections.

    What `heard` returned may be given, not to be worked out again.
    """
    if not len(records.detections):
        return []
    found = found or heard(records)
    visits = found.visits
    alive = visits.loc[~visits["in_place"], "tag_id"].nunique()
    nights = found.nights["night"].nunique()
    antennas = len(found.nights[["lake", "net"]].drop_duplicates())
    # Where no antenna lies none can be heard.
    audible = int(records.tags["lake"].isin(found.nights["lake"]).sum()) if found.told_apart else 0
    whose = f"{alive:,} of {audible:,} tags of ours" if found.told_apart else (
        f"{counted(alive, 'tag')}, whose cannot be told without a table of tags,"
    )  # fmt: skip
    lines = [
        f"Antenna: {whose} heard in {counted(len(visits), 'visit')} on "
        f"{counted(nights, 'night')} by {counted(antennas, 'antenna')}; "
        f"{counted(found.reads, 'read')}."
    ]
    apart = [
        words
        for count, words in (
            (found.doubled, counted(found.doubled, "row") + " given twice"),
            (
                found.ghosts,
                counted(found.ghosts, "read") + " of codes that came once (ghost reads)",
            ),
            (
                found.foreign_reads,
                f"{counted(found.foreign_tags, 'tag')} not of ours "
                f"({counted(found.foreign_reads, 'read')})",
            ),
            (
                found.strayed_reads,
                f"{counted(found.strayed_tags, 'tag')} of another lake of this campaign "
                f"({counted(found.strayed_reads, 'read')})",
            ),
            (found.before_release, counted(found.before_release, "read") + " before release"),
            (
                int(visits["in_place"].sum()),
                counted(int(visits.loc[visits["in_place"], "tag_id"].nunique()), "tag")
                + " lying beside an antenna",
            ),
        )
        if count
    ]
    if apart:
        lines.append(f"Left out of that: {'; '.join(apart)}.")
    return lines
