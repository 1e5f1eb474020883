"""What every check of a fit returns."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Literal

import pandas as pd

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from matplotlib.figure import Figure

type Outcome = Literal["passed", "not passed", "for information"]

# How often a check fails although the model is right.
FALSE_ALARM = 0.01


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
    sentence : str
        What was found, in the words of the trade.
    """

    name: str
    outcome: Outcome
    table: pd.DataFrame = field(repr=False, compare=False)
    sentence: str
    drawing: Callable[[Any], None] = field(repr=False, compare=False)

    def figure(self) -> Figure:
        """Draw the check; made anew at each call, and not before."""
        from matplotlib.figure import Figure

        figure = Figure(figsize=(7.0, 4.0), layout="constrained")
        axes = figure.subplots()
        self.drawing(axes)
        axes.set_title(self.name)
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
