"""The best time to lift in plain words, for the crew."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fishdown.decisions.lift_presence import clock
from fishdown.decisions.lift_time import OFF_HOURS
from fishdown.intervals import low_median_high
from fishdown.units import label
from fishdown.words import amount, counted

if TYPE_CHECKING:
    from collections.abc import Iterator

    from fishdown.decisions.lift_time import LakeLift, LiftTimes
    from fishdown.typing import FloatArray

CAUTION = (
    "Boats at night: life jackets, lights, never alone. Keep people clear of raised net walls, "
    "falling weights and lines under tension. Permits, local codes and licensed practice prevail."
)


def lift_sentences(found: LiftTimes) -> list[str]:
    """Say what was found, lake by lake, what it takes for granted, and the caution."""
    sentences = [sentence for lake in found.lakes for sentence in _of_lake(lake)]
    if found.told:
        sentences += [
            f"Times of day are those of {found.zone}. Intervals hold 90 %; they treat each night "
            "as one observation.",
            "This takes for granted that nights to come are like those recorded, that tagged fish "
            "keep the hours of the others, and that the antenna hears every tag at the bait; if "
            "it hears a share of them, numbers are too low by that share and the times hold.",
        ]
    return [*sentences, CAUTION]


def _of_lake(lake: LakeLift) -> Iterator[str]:
    seen = lake.seen
    heard = f"{counted(seen.tags, 'tag')} heard on {counted(seen.nights, 'night')}"
    if lake.why_not or lake.curve is None or lake.losses is None:
        yield f"{seen.lake}: the best time to lift cannot be told ({lake.why_not})."
        return
    first, last = lake.good
    times = f"at {clock(lake.best)}"
    if first != last:
        times += f" (as good within a tenth: {clock(first)} to {clock(last)})"
    yield (
        f"{seen.lake}: lift {times}. With 90 % probability the best time lies between "
        f"{clock(lake.best_low)} and {clock(lake.best_high)} ({heard})."
    )
    tags = float(seen.at_large[np.argmax(seen.night)])
    of = "at large" if seen.listed else "heard at all"
    for net, name in enumerate(seen.nets):
        there = lake.curve.drawn[:, net, lake.best]
        words = (
            f"Net {name}: {_said(there, 'tagged fish')} are then at the net, "
            f"{_said(100.0 * there / tags, '%')} of the {tags:,.0f} {of}."
        )
        if lake.fish_per_tag is not None:
            words += f" Expected catch: {_said(there * lake.fish_per_tag, 'fish')}"
            words += ", if the walls close around all of them."
        yield words
    if lake.fish_per_tag is None:
        yield f"The expected catch cannot be told: {lake.why_no_catch}."
    for hours in OFF_HOURS:
        off = "; ".join(
            f"{when} by {counted(hours, 'hour')}, {_loss(lake.losses[when, hours])}"
            for when in ("earlier", "later")
        )
        yield f"Lifting {off}."
    effects = {
        "cooling": "In water 5 °C colder",
        "bait": "After four days of bait, compared with one,",
    }
    for name, lead in effects.items():
        if name in lake.curve.effects:
            times_as = _said(lake.curve.effects[name], "times")
            yield f"{label(lead)} tagged fish at the net are {times_as} as many."


def _said(draws: FloatArray, unit: str) -> str:
    low, median, high = low_median_high(draws)
    return f"{amount(median)} {unit} ({amount(low)} to {amount(high)})"


def _loss(points: FloatArray) -> str:
    low, median, high = (round(100.0 * float(point)) for point in points)
    more = "fewer" if median >= 0 else "more"
    if median < 0:
        low, median, high = -high, -median, -low
    return f"{median} % {more} tagged fish ({low} to {high} %)".replace("-", "−")
