"""What a rule should find: a code in its place, and the values that the test is about."""

from __future__ import annotations

from dataclasses import dataclass

from fishdown.records.problems import Problem, ProblemCode


@dataclass
class At:
    """Equal to a problem of this code and place that has these values, and perhaps others."""

    code: ProblemCode
    file: str
    row: int | None
    column: str | None
    values: dict[str, object]

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Problem):
            return NotImplemented
        place = (other.code, other.file, other.row, other.column)
        return place == (self.code, self.file, self.row, self.column) and all(
            other.values[name] == value for name, value in self.values.items()
        )


def at(
    code: ProblemCode,
    file: str,
    row: int | None = None,
    column: str | None = None,
    **values: object,
) -> At:
    """Write what a rule should find."""
    return At(code, file, row, column, values)
