"""Marked fish of an invented campaign: what is put on them, and what is seen again."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Any

import numpy as np

from fishdown.records.tables import PEN

if TYPE_CHECKING:
    from fishdown.worlds.truth import World


# Which marks of a fish are seen: clip, tag.
SEEN = ((True, True), (True, False), (False, True))


def mark(
    world: World,
    here: dict[str, Any],
    marked: int,
    day: dt.date,
    rng: np.random.Generator,
    tables: dict[str, list[dict[str, Any]]],
) -> np.ndarray[Any, np.dtype[np.int64]]:
    """Mark the batches, write their rows, and return the fish of each by what is left to see."""
    clip, tag = world.clip_retention, world.tag_retention
    left = {
        "fin_clip": (0.0, clip, 0.0),
        "pit_tag": (0.0, 0.0, tag),
        "both": (clip * tag, clip * (1.0 - tag), (1.0 - clip) * tag),
    }
    found = []
    for batch, mark in enumerate(world.batches):
        released = len(range(batch, marked, len(world.batches)))
        tables["marked"].append(
            {**here, "date": day, "batch": _batch_name(here, batch), "mark": mark,
             "released": released, "died": 0, "order": np.nan, **dict.fromkeys(PEN, 0)}
        )  # fmt: skip
        seen = np.array(left[mark]) * world.post_release_survival * (1.0 - world.marks_lost)
        found.append(rng.multinomial(released, [*seen, max(1.0 - seen.sum(), 0.0)])[:-1])
    return np.array(found)


def _batch_name(here: dict[str, Any], batch: int) -> str:
    return f"batch {batch + 1} of {here['season']}"


def sightings(
    world: World,
    pull: dict[str, Any],
    recaptured: int,
    batches: np.ndarray[Any, np.dtype[np.int64]],
    rng: np.random.Generator,
) -> list[dict[str, Any]]:
    """Tell which marked fish a catch held, and take them off their batches; one row a kind."""
    # Over the years the crew tells marked fish from others, but not one batch from the next.
    if world.years > 1 or world.batches == ("fin_clip",):
        return []
    taken = rng.multivariate_hypergeometric(batches.ravel(), recaptured).reshape(batches.shape)
    batches -= taken
    return [
        {**pull, "batch": _batch_name(pull, batch), "count": int(taken[batch, kind]), "tag_id": "",
         "clip_seen": SEEN[kind][0], "tag_read": SEEN[kind][1]}
        for batch, kind in np.argwhere(taken).tolist()
    ]  # fmt: skip
