"""What one column of a table holds."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from fishdown.records.cells import Kind
    from fishdown.records.plausible import Range


@dataclass(frozen=True)
class Field:
    """One column of a table.

    Attributes
    ----------
    kind : str
        What its cells hold.
    what : str
        What to write in it; completes "write …".
    required : bool
        True if the column must be there and every cell filled.
    least, most : float or None
        Range of a number: not below `least`, not beyond `most`.
    within : Range or None
        What any real water, fish or net can be, for a number in general terms.
    shared : bool
        Whether one number may hold for several rows, such as the water temperature of a day.
    """

    kind: Kind
    what: str
    required: bool = False
    least: float | None = None
    most: float | None = None
    within: Range | None = None
    shared: bool = False

    @property
    def numeric(self) -> bool:
        """Whether its cells hold numbers."""
        return self.kind in ("number", "count")
