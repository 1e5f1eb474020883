"""Labels of seasons, nets and pulls, for people.

Code tells a season by (lake, season), a net by (lake, net), and a pull by its position.
"""

from __future__ import annotations

from collections import Counter
from itertools import count
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Hashable, Iterable, Iterator


ALL_LAKES, ALL_SEASONS = "all lakes", "all seasons"


def season_label(lake: Hashable, season: Hashable) -> str:
    """Join a lake and a season, as in "Sedge Lake 2025"; either may be empty.

    With a dash between the two where the season is of several words, so that "Long – Pond 2025" is
    not taken for "Long Pond 2025".
    """
    return f"{lake} – {season}" if " " in str(season) else f"{lake} {season}".strip()


def told_apart(labels: Iterable[str]) -> list[str]:
    """Tell equal labels apart by numbers, as coordinates: "Sedge Lake", "Sedge Lake (2)"."""
    taken: set[str] = set()
    further: dict[str, Iterator[int]] = {}
    unique = []
    for label in labels:
        name = label
        while name in taken:
            name = f"{label} ({next(further.setdefault(label, count(2)))})"
        taken.add(name)
        unique.append(name)
    return unique


def net_labels(nets: Iterable[tuple[str, str]]) -> list[str]:
    """Return labels for nets, given by lake and net, as in "Sedge Lake: north"."""
    return told_apart(f"{lake}: {net}" for lake, net in nets)


def group_labels(groups: Iterable[tuple[str, ...]]) -> list[str]:
    """Return labels for what pulls have in common, lake first, as in "Sedge Lake 2025-06-10"."""
    return told_apart(" ".join(group) for group in groups)


def pull_labels(seasons: Iterable[str]) -> list[str]:
    """Return labels for pulls in time order, void lifts too, as in "Sedge Lake 2025, pull 3"."""
    so_far: Counter[str] = Counter()
    labels = []
    for season in seasons:
        so_far[season] += 1
        labels.append(f"{season}, pull {so_far[season]}")
    return labels
