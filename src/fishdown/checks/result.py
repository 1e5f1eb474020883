"""The result of a check of a fit."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Literal

import pandas as pd

from fishdown.equality import by_value

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from matplotlib.figure import Figure

    from fishdown.sentences import Said

type Outcome = Literal["passed", "not passed", "for information"]

# False-alarm rate: how often a check fails for a correct model.
FALSE_ALARM = 0.01
# Of a figure, in inches: as a panel of `fishdown.figures`, readable on a phone.
SIZE = (4.2, 3.0)


@by_value
@dataclass(frozen=True)
class CheckResult:
    """One check of a fit.

    Attributes
    ----------
    name : str
        What is checked, in a few words.
    outcome : {"passed", "not passed", "for information"}
        A check for information has no pass mark.
    table : pandas.DataFrame
        The numbers behind it; units are in the column names or in a column `unit`.
    said : Said
        The finding: its code and values.
    """

    name: str
    outcome: Outcome
    table: pd.DataFrame = field(repr=False)
    said: Said
    drawing: Callable[[Any], None] = field(repr=False, compare=False)

    @property
    def sentence(self) -> str:
        """The finding, in the terms of the field."""
        return str(self.said)

    def figure(self, palette: str = "light") -> Figure:
        """Draw the check; made anew at each call, and not before."""
        import matplotlib as mpl
        from matplotlib.figure import Figure

        from fishdown.palette import palette_named, settings

        with mpl.rc_context(settings(palette_named(palette))):  # type: ignore[arg-type]
            figure = Figure(figsize=SIZE, layout="constrained")
            axes = figure.subplots()
            self.drawing(axes)
            axes.set_title(self.name[:1].upper() + self.name[1:])
        return figure


def check_frame(results: Sequence[CheckResult]) -> pd.DataFrame:
    """Tabulate results: one row a check.

    Returns
    -------
    pandas.DataFrame
        check, outcome, sentence.
    """
    rows = [(result.name, result.outcome, result.sentence) for result in results]
    return pd.DataFrame(rows, columns=["check", "outcome", "sentence"])
