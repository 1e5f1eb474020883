"""Antennas in an invented lake: which tagged fish are heard on which night, each at random."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import xarray as xr

if TYPE_CHECKING:
    from collections.abc import Iterable

    from fishdown.typing import BoolArray

# Of the night's reads one is enough; the clock of the antenna shows universal time.
_HOUR = dt.time(22)


@dataclass(frozen=True)
class AntennaTruth:
    """How tagged fish are heard.

    Attributes
    ----------
    nights : int
        On which antennas listen.
    mean : float
        Chance to be heard on a night, of the mean fish if `unlike` is given, else of the median.
    unlike : float or None
        Intra-class correlation of fish whose chances are beta-distributed.
    logit_spread : float
        Standard deviation of the logit of a fish's chance, where `unlike` is None.
    night_spread : float
        Standard deviation of the logit between nights, all fish alike.
    never : float
        Share of the living tagged fish that never come near.
    caught : float
        Share of them that nets catch, each on a night of its own, and whose tag is then read.
    """

    nights: int = 12
    mean: float = 0.3
    unlike: float | None = None
    logit_spread: float = 1.0
    night_spread: float = 0.0
    never: float = 0.0
    caught: float = 0.0


def listen(
    released: int, still_there: float, truth: AntennaTruth, rng: np.random.Generator
) -> xr.Dataset:
    """Listen for tagged fish, and count them as `Campaign.antenna` does.

    Parameters
    ----------
    released : int
        Tagged fish.
    still_there : float
        Probability that a fish lives and keeps its tag.
    """
    weather = rng.normal(0.0, truth.night_spread, truth.nights)
    histories: Counter[tuple[int, int, int]] = Counter()
    for _ in range(released):
        there = rng.random() < still_there
        taken = there and rng.random() < truth.caught
        listened = int(rng.integers(truth.nights)) if taken else truth.nights
        heard = int(_heard(truth, weather[:listened], rng).sum()) if there else 0
        histories[listened, heard, int(taken)] += 1
    rows = np.array([(0, *history, tags) for history, tags in histories.items()])
    names = ("season_index", "nights_listened", "nights_heard", "still_there", "tags")
    return xr.Dataset({name: ("history", rows[:, place]) for place, name in enumerate(names)})


def reads(
    tags: Iterable[str],
    truth: AntennaTruth,
    here: dict[str, Any],
    first_day: dt.date,
    rng: np.random.Generator,
) -> list[dict[str, Any]]:
    """Listen on the last nights before a day; returns rows of detections, one a night of a tag.

    Parameters
    ----------
    tags : iterable of str
        Those that are there, each on a living fish.
    """
    evenings = [
        dt.datetime.combine(first_day - dt.timedelta(days=truth.nights - night + 1), _HOUR)
        for night in range(truth.nights)
    ]
    weather = rng.normal(0.0, truth.night_spread, truth.nights)
    return [
        {**here, "time": evenings[night], "local": evenings[night], "net": "antenna", "tag_id": tag}
        for tag in tags
        for night in np.flatnonzero(_heard(truth, weather, rng)).tolist()
    ]


def _heard(truth: AntennaTruth, weather: Any, rng: np.random.Generator) -> BoolArray:
    """Tell on which nights a fish that is there is heard."""
    if rng.random() < truth.never:
        return np.zeros(len(weather), dtype=bool)
    chance = _chance(truth, rng)
    odds = chance / (1.0 - chance) * np.exp(weather)
    heard: BoolArray = rng.random(len(weather)) < odds / (1.0 + odds)
    return heard


def _chance(truth: AntennaTruth, rng: np.random.Generator) -> float:
    if truth.unlike is None:
        middle = np.log(truth.mean / (1.0 - truth.mean))
        return float(1.0 / (1.0 + np.exp(-rng.normal(middle, truth.logit_spread))))
    total = (1.0 - truth.unlike) / truth.unlike
    return float(
        np.clip(rng.beta(truth.mean * total, (1.0 - truth.mean) * total), 1e-12, 1 - 1e-12)
    )
