"""The classical estimators, each with its source, for comparison with the model.

Every function returns an `Estimate`, or raises `fishdown.errors.DesignError` when the design does
not qualify. `classical_estimators` applies all of them to the pulls of one lake and season.
"""

from fishdown.formulas.effort import leslie, log_catch_per_effort
from fishdown.formulas.estimate import Estimate
from fishdown.formulas.marking import chapman
from fishdown.formulas.markings import schnabel, schumacher_eschmeyer
from fishdown.formulas.passes import k_passes, three_passes, two_passes, weighted_passes
from fishdown.formulas.table import Row, classical_estimators

__all__ = [
    "Estimate",
    "Row",
    "chapman",
    "classical_estimators",
    "k_passes",
    "leslie",
    "log_catch_per_effort",
    "schnabel",
    "schumacher_eschmeyer",
    "three_passes",
    "two_passes",
    "weighted_passes",
]
