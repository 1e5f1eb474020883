"""What can go wrong, in one family: every error fishdown raises on purpose is a FishdownError."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fishdown.records.problems import Problem


class FishdownError(Exception):
    """Base of all errors that fishdown raises on purpose; its text is meant for the user."""


class RecordsError(FishdownError, ValueError):
    """The records have problems; all of them are listed, not only the first.

    Attributes
    ----------
    problems : tuple of Problem
        Every problem found, in the order of the files and rows; of many alike, the text of the
        error shows the first and a count.
    """

    def __init__(self, problems: Sequence[Problem]) -> None:
        # Problems are part of the records, which raise these errors.
        from fishdown.records.problems import counted, listed

        self.problems = tuple(problems)
        count = sum(problem.severity == "error" for problem in self.problems)
        lines = [f"{counted(count, 'problem')} in the records:"]
        lines += [f"  {line}" for line in listed(self.problems)]
        super().__init__("\n".join(lines))


class ModelFileError(FishdownError, ValueError):
    """A model file names something unknown or gives it an impossible value."""


class DesignError(FishdownError, ValueError):
    """A classical estimator does not apply to this design; the text says why."""


class PlanError(FishdownError, ValueError):
    """What is asked about the future makes no sense; the text says what to write instead."""


class FitError(FishdownError, RuntimeError):
    """A model could not be fitted, or a saved fit could not be read."""
