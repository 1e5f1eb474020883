"""The best time of the night to lift the net, from what its antenna heard."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from fishdown.decisions.lift_curve import Curve, fit_curve
from fishdown.decisions.lift_presence import SLOT_MINUTES, SLOTS, Presence, clock, presence
from fishdown.equality import by_value
from fishdown.errors import FishdownError
from fishdown.intervals import TAILS, low_median_high
from fishdown.records.visits import PAUSE_MINUTES, heard

if TYPE_CHECKING:
    import os

    from fishdown.records.checked import Records
    from fishdown.typing import FloatArray

# With fewer, a night or a fish would decide (our judgement, no source).
FEWEST_NIGHTS, FEWEST_TAGS = 3, 5
# Marked fish in examined catches, and days of them, that tell fish per tagged fish.
_FEWEST_RECAPTURES, _FEWEST_DAYS = 5, 3
DRAWS = 4_000
OFF_HOURS = (1, 2)
# Times whose expected number is within a tenth of the best are as good in practice.
NEARLY = 0.9
_SLOTS_AN_HOUR = 60 // SLOT_MINUTES


@by_value
@dataclass(frozen=True)
class LakeLift:
    """When to lift the nets of one lake.

    Attributes
    ----------
    seen : Presence
    why_not : str
        Why that cannot be told; empty if it can.
    curve : Curve or None
    best : int
        Slot of the highest expected number.
    good : tuple of int
        First and last slot about it with nine tenths of that number or more.
    best_low, best_high : float
        Slots between which the best time lies with 90 % probability, a quarter of an hour either
        way included; they may be those of the day before or after (negative, or beyond the last).
    losses : dict of (str, int) to ndarray, shape (3,)
        Share of the fish missed by lifting "earlier" or "later" by so many hours: low, median,
        high.
    fish_per_tag : ndarray or None, shape (draw,)
        Fish in a catch for each tagged fish in it; None if catches do not tell.
    why_no_catch : str
        Why not.
    """

    seen: Presence
    why_not: str = ""
    curve: Curve | None = None
    best: int = 0
    good: tuple[int, int] = (0, 0)
    best_low: float = 0.0
    best_high: float = 0.0
    losses: dict[tuple[str, int], FloatArray] | None = None
    fish_per_tag: FloatArray | None = None
    why_no_catch: str = ""


@by_value
@dataclass(frozen=True)
class LiftTimes:
    """When to lift the nets of a campaign.

    Attributes
    ----------
    lakes : tuple of LakeLift
        The lakes with an antenna.
    frame : pandas.DataFrame
        A row for each net and half hour from noon on: lake, net, time (of day), tagged_fish,
        share_of_tags, relative_to_best and catch, each with _low, _median and _high (90 %
        interval); catch is missing where catches do not tell it. Lakes that cannot be told have
        no rows.
    zone : str
        What the times of day are in.
    """

    lakes: tuple[LakeLift, ...]
    frame: pd.DataFrame
    zone: str

    @property
    def told(self) -> bool:
        """Whether the time of any lake can be told."""
        return any(not lake.why_not for lake in self.lakes)


def lift_times(
    records: Records, *, pause_minutes: float = PAUSE_MINUTES, seed: int = 1
) -> LiftTimes:
    """Find the best time of the night to lift the net, lake by lake.

    Parameters
    ----------
    pause_minutes : float
        Two reads of a tag at one antenna further apart belong to two visits.

    Raises
    ------
    FishdownError
        If there are no detections.
    """
    found = heard(records, pause_minutes)
    lakes = [lake for lake in records.lakes["lake"] if (found.nights["lake"] == lake).any()]
    if not lakes:
        raise FishdownError(
            "no antenna detections: write the reads of the antenna into detections.csv, with the "
            "columns time, lake, net and tag_id"
        )
    rng = np.random.default_rng(seed)
    lifts = tuple(_of_lake(records, presence(records, found, lake), rng) for lake in lakes)
    zone = records.settings.time_zone or "the offsets written in the detections"
    frames = [_frame(lift) for lift in lifts if not lift.why_not]
    return LiftTimes(lifts, pd.concat(frames, ignore_index=True) if frames else _frame(None), zone)


def lift_time(path: str | os.PathLike[str], *, seed: int = 1) -> LiftTimes:
    """Read a campaign's records and find the best time of the night to lift its nets.

    Parameters
    ----------
    path : str or path-like
        Folder or workbook of the campaign, with a table of detections.
    seed : int
        Of the random numbers.

    Returns
    -------
    LiftTimes

    Raises
    ------
    RecordsError
        If the records have problems; every problem is listed.
    FishdownError
        If there are no detections.
    """
    from fishdown.records import read_records

    return lift_times(read_records(path), seed=seed)


def _of_lake(records: Records, seen: Presence, rng: np.random.Generator) -> LakeLift:
    why_not = _why_not(seen)
    if why_not:
        return LakeLift(seen, why_not)
    curve = fit_curve(seen, DRAWS, rng)
    # All nets of a lake have one curve, each at a level of its own.
    shape = curve.drawn[:, 0]
    middle = np.median(shape, axis=0)
    best = int(np.argmax(middle))
    offset = (np.argmax(shape, axis=1) - best + SLOTS // 2) % SLOTS - SLOTS // 2
    low, high = np.quantile(offset, TAILS)
    losses = {
        (when, hours): low_median_high(
            1.0 - shape[:, (best + sign * hours * _SLOTS_AN_HOUR) % SLOTS] / shape[:, best]
        )
        for hours in OFF_HOURS
        for when, sign in (("earlier", -1), ("later", 1))
    }
    fish_per_tag, why_no_catch = _fish_per_tag(records, seen.lake, rng)
    return LakeLift(
        seen=seen,
        curve=curve,
        best=best,
        good=_good(middle, best),
        best_low=best + float(np.floor(low)) - 0.5,
        best_high=best + float(np.ceil(high)) + 0.5,
        losses=losses,
        fish_per_tag=fish_per_tag,
        why_no_catch=why_no_catch,
    )


def _why_not(seen: Presence) -> str:
    wanted = []
    if seen.nights < FEWEST_NIGHTS:
        wanted.append(f"nights with an antenna: {seen.nights}, at least {FEWEST_NIGHTS} are needed")
    if seen.tags < FEWEST_TAGS:
        wanted.append(f"different tags heard: {seen.tags}, at least {FEWEST_TAGS} are needed")
    return "; ".join(wanted)


def _good(middle: FloatArray, best: int) -> tuple[int, int]:
    enough = middle >= NEARLY * middle[best]
    first = last = best
    while first > best - SLOTS // 2 and enough[(first - 1) % SLOTS]:
        first -= 1
    while last < best + SLOTS // 2 and enough[(last + 1) % SLOTS]:
        last += 1
    return first, last


def _fish_per_tag(
    records: Records, lake: str, rng: np.random.Generator
) -> tuple[FloatArray | None, str]:
    """Draw fish in a catch for each tagged fish in it.

    Fish over marked fish in all examined catches, times marked over tagged fish released alive;
    the uncertainty is that of whole days, by leaving out each in turn.
    """
    pulls = records.pulls[records.pulls["lake"] == lake]
    examined = pulls[pulls["recaptured"].notna() & (pulls["marks_at_large"] > 0)]
    days = examined.groupby("date")[["examined", "recaptured"]].sum()
    if days["recaptured"].sum() < _FEWEST_RECAPTURES or len(days) < _FEWEST_DAYS:
        return None, (
            f"fewer than {_FEWEST_RECAPTURES} marked fish in examined catches of "
            f"{_FEWEST_DAYS} days"
        )
    marked = records.marked[records.marked["lake"] == lake]
    alive = marked["released"] - marked["died"]
    tagged = float(alive[marked["mark"] != "fin_clip"].sum())
    if not tagged:
        return None, "no tagged fish released"
    fish, seen = days["examined"].to_numpy(float), days["recaptured"].to_numpy(float)
    # Half a fish keeps the ratio finite when the only day with marked fish is left out.
    ratio = np.log(fish.sum() / seen.sum())
    without = np.log((fish.sum() - fish + 0.5) / (seen.sum() - seen + 0.5))
    count = len(days)
    sd = np.sqrt((count - 1.0) / count * ((without - without.mean()) ** 2).sum() + 1 / seen.sum())
    drawn: FloatArray = np.exp(ratio + sd * rng.standard_t(count - 1.0, size=DRAWS))
    return drawn * float(alive.sum()) / tagged, ""


def _frame(lift: LakeLift | None) -> pd.DataFrame:
    quantities = ("tagged_fish", "share_of_tags", "relative_to_best", "catch")
    points = ("low", "median", "high")
    numbers = [f"{quantity}_{point}" for quantity in quantities for point in points]
    if lift is None or lift.curve is None:
        return pd.DataFrame(columns=["lake", "net", "time", *numbers])
    drawn, seen = lift.curve.drawn, lift.seen
    tags = float(seen.at_large[np.argmax(seen.night)])
    rows = []
    for net, name in enumerate(seen.nets):
        of_net = drawn[:, net]
        values = [of_net, of_net / tags, of_net / of_net[:, lift.best, None]]
        if lift.fish_per_tag is not None:
            values.append(of_net * lift.fish_per_tag[:, None])
        told = [np.quantile(each, [TAILS[0], 0.5, TAILS[1]], axis=0) for each in values]
        told += [np.full((3, SLOTS), np.nan)] * (len(quantities) - len(told))
        table = pd.DataFrame(np.concatenate(told).T, columns=numbers)
        table.insert(0, "lake", seen.lake)
        table.insert(1, "net", name)
        table.insert(2, "time", [clock(slot) for slot in range(SLOTS)])
        rows.append(table)
    return pd.concat(rows, ignore_index=True)
