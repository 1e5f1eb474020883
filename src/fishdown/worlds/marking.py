"""Marked fish of an invented campaign: what is put on them, and what is seen of them again."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from fishdown.equality import by_value
from fishdown.records.tables import PEN
from fishdown.worlds.antenna import reads

if TYPE_CHECKING:
    from fishdown.typing import IntArray
    from fishdown.worlds.truth import World


# Which marks of a fish are seen: clip, tag.
SEEN = ((True, True), (True, False), (False, True))
# Days before netting on which fish are marked, and another gear is run.
MARKING_DAYS, SURVEY_DAYS = 30, 10


@by_value
@dataclass
class Marks:
    """The marked fish in a lake that can be told from others.

    Attributes
    ----------
    batches : ndarray of int, shape (batch, seen)
        Fish of each batch by what is left to see.
    tags : dict of (int, int) to list of str
        Numbers of the tags of these, where the crew reads them.
    """

    batches: IntArray
    tags: dict[tuple[int, int], list[str]]

    @classmethod
    def none(cls, batches: int) -> Marks:
        """Return no marked fish."""
        return cls(np.zeros((batches, len(SEEN)), dtype=np.int64), {})


def mark(
    world: World,
    here: dict[str, Any],
    marked: int,
    first_day: dt.date,
    rng: np.random.Generator,
    tables: dict[str, list[dict[str, Any]]],
) -> Marks:
    """Mark the batches and write their rows, and what pens and antennas tell before netting."""
    day = first_day - dt.timedelta(days=MARKING_DAYS)
    clip, tag = world.clip_retention, world.tag_retention
    left = {
        "fin_clip": (0.0, clip, 0.0),
        "pit_tag": (0.0, 0.0, tag),
        "both": (clip * tag, clip * (1.0 - tag), (1.0 - clip) * tag),
    }
    alive = world.post_release_survival * np.exp(-world.mortality * MARKING_DAYS / 365.25)
    sizes = world.batch_sizes or tuple(
        len(range(batch, marked, len(world.batches))) for batch in range(len(world.batches))
    )
    found = []
    for batch, (mark, released) in enumerate(zip(world.batches, sizes, strict=True)):
        tables["marked"].append(
            {**here, "date": day, "batch": _batch_name(here, batch), "mark": mark,
             "released": released, "died": 0, "order": np.nan, **dict.fromkeys(PEN, 0)}
        )  # fmt: skip
        seen = np.array(left[mark]) * alive * (1.0 - world.marks_lost)
        found.append(rng.multinomial(released, [*seen, max(1.0 - seen.sum(), 0.0)])[:-1])
    marks = Marks(np.array(found), {})
    if world.penned:
        first = tables["marked"][-len(sizes)]
        first |= _in_pen(world, sum(left[first["mark"]]), rng)
    if world.antenna is not None:
        _listen(world, here, sizes, marks, first_day, rng, tables)
    return marks


def _in_pen(world: World, seen: float, rng: np.random.Generator) -> dict[str, int]:
    """Keep marked fish in a pen for some days; deaths of marking fall into these."""
    alive = int(rng.binomial(world.penned, world.post_release_survival))
    kept = int(rng.binomial(alive, seen * (1.0 - world.marks_lost)))
    return dict(zip(PEN, (world.penned, alive, kept), strict=True))


def _listen(
    world: World,
    here: dict[str, Any],
    sizes: tuple[int, ...],
    marks: Marks,
    first_day: dt.date,
    rng: np.random.Generator,
    tables: dict[str, list[dict[str, Any]]],
) -> None:
    """Give tags their numbers, and write what antennas hear of those that are there."""
    assert world.antenna is not None
    lake = {"lake": here["lake"], "row": 0}
    for batch, (mark, released) in enumerate(zip(world.batches, sizes, strict=True)):
        if mark == "fin_clip":
            continue
        name = _batch_name(here, batch)
        numbers = [f"{here['season']}{batch:02d}{number:06d}" for number in range(released)]
        tables["tags"] += [{**lake, "batch": name, "tag_id": number} for number in numbers]
        for kind, (_, tagged) in enumerate(SEEN):
            count = int(marks.batches[batch, kind])
            own, numbers = numbers[:count], numbers[count:]
            if tagged:
                marks.tags[batch, kind] = own
                tables["detections"] += reads(own, world.antenna, lake, first_day, rng)


def survey(
    world: World,
    here: dict[str, Any],
    released: int,
    marked: int,
    unmarked: int,
    first_day: dt.date,
    rng: np.random.Generator,
) -> dict[str, Any]:
    """Run another gear before netting, and put its fish back; returns the row of surveys."""
    looked_at = min(world.surveyed, (marked + unmarked) // 2)
    odds = world.survey_odds * marked
    if world.survey_clumping:
        odds *= rng.gamma(world.survey_clumping**-2, world.survey_clumping**2)
    return {
        **here, "date": first_day - dt.timedelta(days=SURVEY_DAYS), "gear": "seine",
        "marking_gear": False, "caught": float(looked_at), "examined": float(looked_at),
        "marked": float(rng.binomial(looked_at, odds / (odds + unmarked))), "effort_h": np.nan,
        "marks_at_large": float(released),
    }  # fmt: skip


def _batch_name(here: dict[str, Any], batch: int) -> str:
    return f"batch {batch + 1} of {here['season']}"


def sightings(
    world: World,
    pull: dict[str, Any],
    recaptured: int,
    marks: Marks,
    rng: np.random.Generator,
) -> list[dict[str, Any]]:
    """Tell which marked fish a catch held, and take them off their batches.

    One row a kind, or a fish where the numbers of tags are read.
    """
    # Over the years the crew tells marked fish from others, but not one batch from the next.
    if world.years > 1 or world.batches == ("fin_clip",):
        return []
    batches = marks.batches
    taken = rng.multivariate_hypergeometric(batches.ravel(), recaptured).reshape(batches.shape)
    batches -= taken
    rows = []
    for batch, kind in np.argwhere(taken).tolist():
        row = {**pull, "batch": _batch_name(pull, batch), "count": int(taken[batch, kind]),
               "tag_id": "", "clip_seen": SEEN[kind][0], "tag_read": SEEN[kind][1]}  # fmt: skip
        tags = marks.tags.get((batch, kind))
        if tags is None:
            rows.append(row)
            continue
        for _ in range(row["count"]):
            tag = tags.pop(int(rng.integers(len(tags))))
            rows.append({**row, "count": 1, "tag_id": tag})
    return rows
