"""What can be wrong in a plan file or a file of pulls to come: each code with its sentences."""

from __future__ import annotations

from enum import unique

from fishdown.errors import PlanError
from fishdown.records.problems import NoPlaceError, ProblemCode


@unique
class PlanCode(ProblemCode):
    """One kind of problem of what is asked about the future."""

    # Pulls to come.
    PULLS = "{pulls:#pull} → write 1 to {most:,} rows, one a pull"
    MISSING_COLUMN = 'missing column → <rename "{like}"|add it; the columns are {known}>'
    UNKNOWN_COLUMN = "unknown column → delete it; the columns are {known}"
    UNKNOWN_LAKE = """no pulls in a lake of this name
        → <did you mean "{like}"?|lakes with pulls are {known}>"""
    BEFORE_LAST_PULL = """{day} lies before the last pull of {lake} ({last})
        → begin on that day or later"""
    TOO_FAR_AHEAD = """{day} lies {ahead:,} days after the last pull of {lake} ({last})
        → pulls are predicted for {most} days at most, for later years use fishdown years"""
    NO_WATER_TEMPERATURE = """{celsius:unit °C} is not a temperature of netted water
        → write {coldest:unit °C} to {warmest:unit °C}"""
    # Plan files.
    UNKNOWN_TABLE = 'unknown table → <did you mean "{like}"?|known tables: {known}>'
    UNKNOWN_ENTRY = 'unknown entry → <did you mean "{like}"?|known in [{table}]: {known}>'
    MOVED_ENTRY = "now stands in [{table}] → move the line there"
    NOT_A_TABLE = "not a table → write [{table}] on a line of its own"
    MISSING_ENTRY = "missing in [{table}]"
    NOT_ABOVE_ZERO = "not above 0"
    OUTSIDE = "not <from {least:g} to {most:g}{most:?}|{least:g} or more>"
    OUTSIDE_PLAUSIBLE = "not {plausible}"
    NOT_ONE_OR_TWO = "not one number and not two"
    LOWER_END_FIRST = "the lower end comes first"
    EMPTY_LIST = "an empty list"
    NOT_A_DATE = "not a date"
    NOT_ONE_OF = "not one of {known}"
    NOT_TRUE_OR_FALSE = "not true or false"
    NO_DESIGN = """no combination of these can be simulated
        → mark no fewer fish than are double-marked, and offer antenna nights with tags only"""
    AREA_OR_SHARE = "one of area_fished_ha and share_a_pull is needed"
    NO_TARGET = "no target → write half_width, right_and_firm or both"
    NO_MONTH = "no month → write a line such as june = 20.0"
    TOO_MANY_DESIGNS = "{designs} designs are more than {most} → offer fewer numbers"
    SEASON_INTO_NEXT_YEAR = """the last round would be on {last}, in another year
        → offer fewer rounds or fewer days between"""
    ABOVE_HALF = """more than half of the {fish:.0f} fish that the lake may hold
        → write fewer, or guess more fish"""


class MisfitError(NoPlaceError, PlanError):
    """A pull to come does not fit the records that it follows."""
