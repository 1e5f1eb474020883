"""When tagged fish were at the nets: counts by night and time of day, with water and bait."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from fishdown.equality import by_value
from fishdown.records.visits import code_of

if TYPE_CHECKING:
    from fishdown.records.checked import Records
    from fishdown.records.visits import Heard
    from fishdown.typing import FloatArray, IntArray

# Times of day, half an hour apart from noon on; a fish heard within a quarter of an hour of one
# was there.
SLOTS, SLOT_MINUTES = 48, 30
_HALF_SLOT = pd.Timedelta(minutes=SLOT_MINUTES / 2)
_NOON = pd.Timedelta(hours=12)
# Water temperatures are taken for nights so near to a reading.
_NEAR_DAYS = 7.0


@by_value
@dataclass(frozen=True)
class Presence:
    """Tagged fish at the nets of one lake, by occasion: one antenna on one night.

    Attributes
    ----------
    lake : str
    nets : tuple of str
        The nets with an antenna.
    net, night : ndarray, shape (occasion,)
        Position of the net; date of the noon before.
    counts : ndarray, shape (occasion, slot)
        Different tags heard within a quarter of an hour of each half hour from noon on.
    listening : ndarray of bool, shape (occasion, slot)
        Between the first and the last read of the antenna.
    at_large : ndarray, shape (occasion,)
        Tags released and not known to be removed; where no table of tags is given, those heard at
        all.
    temperature : ndarray, shape (occasion,)
        Of the water, °C; NaN more than seven days from a reading.
    bait_days : ndarray, shape (occasion,)
        Days since the net was baited; NaN where that is not on record.
    tags : int
        Different tags heard at all.
    listed : bool
        Whether the tags released are known.
    """

    lake: str
    nets: tuple[str, ...]
    net: IntArray
    night: np.ndarray[tuple[int], np.dtype[np.datetime64]]
    counts: FloatArray
    listening: np.ndarray[tuple[int, int], np.dtype[np.bool_]]
    at_large: FloatArray
    temperature: FloatArray
    bait_days: FloatArray
    tags: int
    listed: bool

    @property
    def nights(self) -> int:
        """Different nights."""
        return len(np.unique(self.night))


def clock(slot: float) -> str:
    """Return the time of day of a slot, such as 23:30; of half a slot, a quarter of an hour."""
    minutes = round(12 * 60 + slot * SLOT_MINUTES) % (24 * 60)
    return f"{minutes // 60:02}:{minutes % 60:02}"


def presence(records: Records, heard: Heard, lake: str) -> Presence:
    """Count the tagged fish at the nets of a lake.

    Parameters
    ----------
    heard : Heard
        What their antennas heard; tags that lie beside an antenna are left out.
    lake : str
        With an antenna.
    """
    visits = heard.visits[(heard.visits["lake"] == lake) & ~heard.visits["in_place"]]
    occasions = heard.nights[heard.nights["lake"] == lake].reset_index(drop=True)
    nets = tuple(occasions["net"].drop_duplicates())
    net = occasions["net"].map({name: place for place, name in enumerate(nets)})
    night = occasions["night"].to_numpy("datetime64[D]")
    return Presence(
        lake=lake,
        nets=nets,
        net=net.to_numpy(np.int64),
        night=night,
        counts=_counts(visits, occasions),
        listening=_listening(records, lake, occasions),
        at_large=_at_large(records, lake, night, visits["tag_id"].nunique()),
        temperature=_temperature(records.pulls[records.pulls["lake"] == lake], night),
        bait_days=_bait_days(records.pulls[records.pulls["lake"] == lake], occasions),
        tags=visits["tag_id"].nunique(),
        listed=heard.told_apart,
    )


def _counts(visits: pd.DataFrame, occasions: pd.DataFrame) -> FloatArray:
    counts = np.zeros((len(occasions), SLOTS))
    if visits.empty:
        return counts
    place = pd.MultiIndex.from_frame(occasions[["net", "night"]])
    # The day begins a quarter of an hour before noon, where the first slot does.
    night = (visits["local_start"] - _NOON + _HALF_SLOT).dt.normalize()
    start = night + _NOON - _HALF_SLOT
    row = place.get_indexer(pd.MultiIndex.from_arrays([visits["net"], night]))
    first = _slot(visits["local_start"] - start)
    last = np.minimum(_slot(visits["local_end"] - start), SLOTS - 1)
    length = last - first + 1
    within = np.arange(length.sum()) - np.repeat(np.cumsum(length) - length, length)
    there = pd.DataFrame(
        {
            "row": np.repeat(row, length),
            "slot": np.repeat(first, length) + within,
            "tag": np.repeat(pd.factorize(visits["tag_id"])[0], length),
        }
    ).drop_duplicates()
    # A visit in the quarter of an hour before the first noon is of no night on record.
    there = there[there["row"] >= 0]
    np.add.at(counts, (there["row"].to_numpy(), there["slot"].to_numpy()), 1.0)
    return counts


def _slot(since: pd.Series[pd.Timedelta]) -> IntArray:
    minutes = (since / pd.Timedelta(minutes=SLOT_MINUTES)).to_numpy(float)
    return np.floor(minutes).astype(np.int64)


def _listening(
    records: Records, lake: str, occasions: pd.DataFrame
) -> np.ndarray[tuple[int, int], np.dtype[np.bool_]]:
    reads = records.detections[records.detections["lake"] == lake]
    ends = reads.groupby("net")["local"].agg(["min", "max"]).loc[occasions["net"]]
    noon = (occasions["night"] + _NOON).to_numpy("datetime64[m]")
    slots = noon[:, None] + np.timedelta64(SLOT_MINUTES, "m") * np.arange(SLOTS)
    half = np.timedelta64(SLOT_MINUTES // 2, "m")
    begun, ended = (ends[name].to_numpy("datetime64[m]")[:, None] for name in ("min", "max"))
    inside: np.ndarray[tuple[int, int], np.dtype[np.bool_]] = (slots + half >= begun) & (
        slots - half <= ended
    )
    return inside


def _at_large(
    records: Records,
    lake: str,
    night: np.ndarray[tuple[int], np.dtype[np.datetime64]],
    heard_at_all: int,
) -> FloatArray:
    tags = records.tags[records.tags["lake"] == lake]
    if tags.empty:
        return np.full(len(night), float(heard_at_all))
    days = records.marked[records.marked["lake"] == lake].groupby("batch")["date"].min()
    released = pd.to_datetime(tags["batch"].map(dict(days))).to_numpy("datetime64[D]")
    caught = records.recaptures[
        (records.recaptures["lake"] == lake) & (records.recaptures["tag_id"] != "")
    ]
    removed = caught.assign(code=code_of(caught["tag_id"])).groupby("code")["date"].min()
    gone = pd.to_datetime(code_of(tags["tag_id"]).map(dict(removed))).dropna()
    put_in = np.searchsorted(np.sort(released), night, side="right")
    taken_out = np.searchsorted(np.sort(gone.to_numpy("datetime64[D]")), night, side="left")
    return (put_in - taken_out).astype(float)


def _temperature(
    pulls: pd.DataFrame, night: np.ndarray[tuple[int], np.dtype[np.datetime64]]
) -> FloatArray:
    readings = pulls.dropna(subset=["water_temp_c"]).groupby("date")["water_temp_c"].mean()
    if readings.empty:
        return np.full(len(night), np.nan)
    days = readings.index.to_numpy("datetime64[D]").astype(float)
    at = night.astype(float)
    nearest = np.abs(at[:, None] - days).min(axis=1)
    found = np.interp(at, days, readings.to_numpy(float))
    return np.where(nearest <= _NEAR_DAYS, found, np.nan)


def _bait_days(pulls: pd.DataFrame, occasions: pd.DataFrame) -> FloatArray:
    """Return days since the bait that the net's next pull was set with."""
    baited = pulls.dropna(subset=["bait_days"])
    if baited.empty:
        return np.full(len(occasions), np.nan)
    pulled = baited[["net", "date", "bait_days"]].sort_values("date")
    night = occasions[["net", "night"]].assign(at=np.arange(len(occasions)))
    # A pull after midnight has the date of the day after the night began.
    met = pd.merge_asof(
        night.sort_values("night"),
        pulled,
        left_on="night",
        right_on="date",
        by="net",
        direction="forward",
    ).sort_values("at")
    since = met["bait_days"] - (met["date"] - met["night"]).dt.days
    return since.where(since >= 0).to_numpy(float)
