"""The pulls to come in one lake: their days, nets and temperatures, as asked for or as recorded."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from fishdown.decisions.codes import MisfitError, PlanCode
from fishdown.equality import by_value
from fishdown.errors import PlanError
from fishdown.units import in_us

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from fishdown.campaign import Campaign
    from fishdown.typing import FloatArray

MOST_PULLS = 1_000
# Pulls later than this belong to another year's fish (our judgement, no source).
MOST_DAYS = 366
# Water below and above these is a slip of the pen.
COLDEST_C, WARMEST_C = 0.0, 40.0


@by_value
@dataclass(frozen=True)
class Schedule:
    """Pulls to come in one lake, in time order.

    Attributes
    ----------
    date : ndarray of datetime64[D], shape (pull,)
    net : tuple of str, length pull
    temperature : ndarray, shape (pull,)
        °C as given; NaN where the readings are to tell.
    """

    date: np.ndarray[Any, np.dtype[np.datetime64]]
    net: tuple[str, ...]
    temperature: FloatArray

    @property
    def field_days(self) -> np.ndarray[Any, np.dtype[np.int64]]:
        """Number of field days up to each pull, shape (pull,)."""
        place: np.ndarray[Any, np.dtype[np.int64]] = np.unique(self.date, return_inverse=True)[1]
        return place + 1


@dataclass(frozen=True)
class Pace:
    """How a season goes on.

    Attributes
    ----------
    first : datetime64[D]
        Of the field days to come.
    days_between : int
        From one field day to the next.
    pulls_a_day : int
    most_days : int
        Field days within the `MOST_DAYS` after the last pull on record, of `MOST_PULLS` at most.
    """

    first: np.datetime64
    days_between: int
    pulls_a_day: int
    most_days: int


def pace(
    campaign: Campaign,
    season: int,
    *,
    start: dt.date | None = None,
    days_between: int | None = None,
    pulls_a_day: int | None = None,
) -> Pace:
    """Return the pace of a season as its records have it; parameters are those of `continued`."""
    days = campaign.season_pulls(season)["date"].values.astype("datetime64[D]")
    field_days, each = np.unique(days, return_counts=True)
    gaps = np.diff(field_days).astype(int)
    between = days_between or (max(1, round(float(np.median(gaps)))) if len(gaps) else 1)
    a_day = pulls_a_day or max(1, round(float(np.median(each))))
    last = field_days[-1]
    first = last + np.timedelta64(between, "D") if start is None else np.datetime64(start, "D")
    if start is not None:
        check_day(str(campaign.seasons["lake"].values[season]), last, first)
    room = MOST_DAYS - int((first - last).astype(int))
    most = 0 if room < 0 else min(room // between + 1, MOST_PULLS // a_day)
    return Pace(first, between, a_day, most)


def continued(
    campaign: Campaign,
    season: int,
    pulls: int,
    *,
    start: dt.date | None = None,
    days_between: int | None = None,
    pulls_a_day: int | None = None,
    temperature: float | None = None,
) -> Schedule:
    """Continue a season as its records have it, save for what is asked for.

    Parameters
    ----------
    season : int
        Position of a season with pulls.
    pulls : int
        How many pulls to come.
    start : date, optional
        Of the first of them; by default the usual days after the last pull.
    days_between : int, optional
        Days from one field day to the next; by default the median of the season's.
    pulls_a_day : int, optional
        By default the median of the season's field days.
    temperature : float, optional
        Of the water at all of them, °C; by default predicted from the readings.

    Returns
    -------
    Schedule
        The season's nets in turn, the longest rested first.

    Raises
    ------
    PlanError
        If something asked for cannot be.
    """
    wrong = wrong_pace(temperature, pulls=pulls, days_between=days_between, pulls_a_day=pulls_a_day)
    if wrong:
        raise PlanError("; ".join(wrong))
    done = campaign.season_pulls(season)
    days = done["date"].values.astype("datetime64[D]")
    usual = pace(campaign, season, start=start, days_between=days_between, pulls_a_day=pulls_a_day)
    first, between, a_day = usual.first, usual.days_between, usual.pulls_a_day
    lake = str(campaign.seasons["lake"].values[season])
    # In whole numbers: far enough ahead there are no dates any more.
    ahead = int((first - days.max()).astype(int)) + (pulls - 1) // a_day * between
    if ahead > MOST_DAYS:
        raise PlanError(
            f"the last of {pulls:,} pulls in {lake} would come {ahead:,} days after the last pull "
            f"on record ({days.max()}); pulls are predicted for {MOST_DAYS} days at most. Ask "
            "for fewer pulls, fewer days between them or more pulls a day; for later years use "
            "fishdown years"
        )
    date = first + (np.arange(pulls) // a_day) * np.timedelta64(between, "D")
    last = {str(net): days[place] for place, net in enumerate(done["net"].values)}
    nets = sorted(last, key=lambda net: (last[net], net))
    return Schedule(
        date=date,
        net=tuple(nets[pull % len(nets)] for pull in range(pulls)),
        temperature=np.full(pulls, np.nan if temperature is None else temperature),
    )


def check_day(lake: str, last: np.datetime64, day: np.datetime64) -> None:
    """Refuse a pull that lies before the last one on record, or more than `MOST_DAYS` after it."""
    if day < last:
        raise MisfitError(PlanCode.BEFORE_LAST_PULL, day=day, lake=lake, last=last)
    ahead = int((np.datetime64(day, "D") - last).astype(int))
    if ahead > MOST_DAYS:
        at, most = {"day": day, "lake": lake, "last": last}, MOST_DAYS
        raise MisfitError(PlanCode.TOO_FAR_AHEAD, None, ahead=ahead, most=most, **at)


def check_temperature(celsius: float) -> None:
    """Refuse what no netted water has."""
    if not COLDEST_C <= celsius <= WARMEST_C:
        at = {"celsius": celsius, "coldest": COLDEST_C, "warmest": WARMEST_C, "us": in_us()}
        raise MisfitError(PlanCode.NO_WATER_TEMPERATURE, None, **at)


def last_days(campaign: Campaign) -> dict[str, np.datetime64]:
    """Return the day of the last pull of each lake."""
    return {
        lake: campaign.season_pulls(season)["date"].values.max().astype("datetime64[D]")
        for lake, season in campaign.last_seasons.items()
    }


def wrong_pace(temperature: float | None, **wholes: int | None) -> list[str]:
    """Say what is wrong with a temperature (°C) and numbers of pulls and days, all of it."""
    wrong = [
        f"{name.replace('_', ' ')} = {whole}: write a whole number from 1 to {MOST_PULLS:,}"
        for name, whole in wholes.items()
        if whole is not None and not 1 <= whole <= MOST_PULLS
    ]
    if temperature is not None:
        try:
            check_temperature(temperature)
        except MisfitError as error:
            wrong.append(str(error))
    return wrong


def wrong_prices(prices: Mapping[str, float | None]) -> list[str]:
    """Say which prices, by their names, are neither none nor finite and not negative."""
    return [
        f"{name} = {price:g}: write a number, 0 or more"
        for name, price in prices.items()
        if price is not None and not (math.isfinite(price) and price >= 0.0)
    ]


def ordered(rows: Sequence[tuple[dt.date, str, float]]) -> Schedule:
    """Put planned pulls (date, net, °C or NaN) in time order."""
    sorted_rows = sorted(rows, key=lambda row: row[0])
    return Schedule(
        date=np.array([row[0] for row in sorted_rows], dtype="datetime64[D]"),
        net=tuple(row[1] for row in sorted_rows),
        temperature=np.array([row[2] for row in sorted_rows], dtype=float),
    )


def later_year(campaign: Campaign, season: int, schedule: Schedule) -> bool:
    """Tell whether some pulls lie in a later year than the season's last pull."""
    last = campaign.season_pulls(season)["date"].values.max().astype("datetime64[Y]")
    return bool((schedule.date.astype("datetime64[Y]") > last).any())
