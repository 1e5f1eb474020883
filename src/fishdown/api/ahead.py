"""The pulls to come, with what is written of them."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Self

from fishdown.atomic_write import all_or_none
from fishdown.decisions.ahead import TABLE, PullsAhead
from fishdown.statements.in_units import shown_frame
from fishdown.units import shown_in

if TYPE_CHECKING:
    import os

FIGURE = "ahead.png"


@dataclass(frozen=True)
class Ahead(PullsAhead):
    """The pulls to come in one lake or several, from `fishdown.Fit.ahead`.

    Attributes
    ----------
    lakes, fit, seed
        As those of `fishdown.decisions.ahead.PullsAhead`.
    """

    @classmethod
    def of(cls, pulls: PullsAhead) -> Self:
        """Wrap pulls to come."""
        return cls(pulls.lakes, pulls.fit, pulls.seed)

    def save(self, folder: str | os.PathLike[str]) -> Path:
        """Write ``ahead.csv`` and ``ahead.png`` into a folder; both or neither.

        Raises
        ------
        FishdownError
            If the folder cannot be written.
        """
        from fishdown.figures.ahead import draw
        from fishdown.figures.files import save_figure
        from fishdown.spreadsheet import write_csv

        frame = self.frame()
        with all_or_none(folder) as staged, shown_in(self.lakes[0].units):
            write_csv(shown_frame(frame), staged / TABLE)
            save_figure(draw(frame), staged / FIGURE, "png")
        return Path(folder) / TABLE
