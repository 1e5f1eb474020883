"""A plan as a picture, and what it shows in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fishdown.atomic_write import all_or_none

if TYPE_CHECKING:
    from pathlib import Path

    from fishdown.api.plan import Planned


FIGURE = "plan.png"
DESCRIPTION = "plan.txt"


def write_plan_figure(planned: Planned, folder: str | Path) -> tuple[str, str]:
    """Write `FIGURE`, and what it shows in words, into the folder of a plan; both or neither.

    Raises
    ------
    FishdownError
        If the folder cannot be written.
    """
    from fishdown.figures.files import save_figure
    from fishdown.figures.plan import TITLE, describe

    with all_or_none(folder) as staged:
        save_figure(planned.figure(), staged / FIGURE, "png")
        words = f"{TITLE}\n{describe(planned)}\n"
        (staged / DESCRIPTION).write_text(words, encoding="utf-8")
    return FIGURE, DESCRIPTION
