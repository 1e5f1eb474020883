"""All classical estimators side by side, for one lake and season."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING

from fishdown.errors import DesignError
from fishdown.formulas.counts import check_level
from fishdown.formulas.effort import leslie, log_catch_per_effort
from fishdown.formulas.estimate import Estimate, fish, joined
from fishdown.formulas.marking import chapman
from fishdown.formulas.markings import schnabel, schumacher_eschmeyer
from fishdown.formulas.netting import Netting
from fishdown.formulas.passes import k_passes, three_passes, two_passes, weighted_passes

if TYPE_CHECKING:
    from collections.abc import Callable

    import pandas as pd


# Behind the name of an estimator whose effort is hours fished.
HOURS = ", hours fished"


@dataclass(frozen=True, slots=True)
class Row:
    """One formula of the table: its answer, or why it has none.

    Attributes
    ----------
    method : str
        Name of the formula in the words of the trade.
    estimate : Estimate or None
        Its answer; catchability is per `unit`.
    refusal : str
        Why the formula does not apply; empty when it does.
    unit : str
        Unit of effort, "pull" or "hour".
    """

    method: str
    estimate: Estimate | None = None
    refusal: str = ""
    unit: str = "pull"


def classical_estimators(pulls: pd.DataFrame, *, level: float = 0.9) -> list[Row]:
    """Apply every classical estimator to one lake and season.

    Which design a formula is given:

    The mark–recapture estimators count the marks released in the season, before each pull; where
    marks of earlier seasons are at large and cannot be told apart, they do not apply.

    - Chapman: all examined pulls pooled, if there was one marking and no fish were released again.
    - Schnabel: every examined pull is a sample; fish removed before it are allowed for.
      Schumacher–Eschmeyer: the same, but only if nothing was removed.
    - Passes: each day, or with a single net each pull, if effort is equal, no fish were released
      again and no void pull took fish.
    - Leslie: days, or with a single net pulls; effort is the number of pulls not spoiled. Catches
      of void pulls count as removed, fish released again do not.
    - DeLury: as Leslie, if no fish were released again and no void pull took fish.
    - Leslie and DeLury once more with effort in hours, if each pull not spoiled has its hours.

    Parameters
    ----------
    pulls : DataFrame
        One row a pull, in time order: `date` (datetime64), `net` (str), `caught` (fish),
        `recaptured` (fish; NaN where the catch was not examined for marks), `released_again`
        (fish of the catch released alive), `marks_at_large` (marked fish in the lake just before
        the pull), `spoiled` (bool). If marks of earlier seasons are among these, also
        `marks_of_season` and `recaptured_of_season`: the same of the marks released in the season
        alone (the latter NaN where they cannot be told apart, too); `effort_h` if hours fished
        are on record. `Campaign.season_pulls` has
        all of them.
    level : float, default 0.9
        Confidence level.

    Returns
    -------
    list of Row
        One a formula, always in the same order. Abundance is that before the first pull.

    Raises
    ------
    DesignError
        If the table of pulls itself is broken, or the level is no probability.
    """
    check_level(level)
    netting = Netting.read(pulls)

    leslie_half = partial(leslie, half_catch=True)
    delury_half = partial(log_catch_per_effort, half_effort=True)
    formulas: dict[str, Callable[[], Estimate]] = {
        "Chapman, one marking": lambda: _one_marking(netting, level),
        "Schnabel": lambda: _markings(schnabel, netting, level),
        "Schumacher–Eschmeyer": lambda: _markings(schumacher_eschmeyer, netting, level),
        "two passes": lambda: _passes(two_passes, netting, level),
        "three passes, closed form": lambda: _passes(three_passes, netting, level),
        "passes, maximum likelihood": lambda: _passes(k_passes, netting, level),
        "passes, weighted likelihood": lambda: _passes(weighted_passes, netting, level),
        "Leslie": lambda: _leslie(leslie, netting, level),
        "Leslie, half catch": lambda: _leslie(leslie_half, netting, level),
        "DeLury": lambda: _delury(log_catch_per_effort, netting, level),
        "DeLury, half effort": lambda: _delury(delury_half, netting, level),
    }
    if netting.in_hours:
        formulas |= {
            f"Leslie{HOURS}": lambda: _leslie(leslie, netting, level, hours=True),
            f"DeLury{HOURS}": lambda: _delury(log_catch_per_effort, netting, level, hours=True),
        }
    rows = []
    for method, formula in formulas.items():
        try:
            estimate = formula()
        except DesignError as refusal:
            rows.append(Row(method, refusal=str(refusal)))
        else:
            unit = "hour" if method.endswith(HOURS) else "pull"
            rows.append(Row(method, _noting_known(estimate, netting.known), unit=unit))
    return rows


def _one_marking(netting: Netting, level: float) -> Estimate:
    marked, caught, recaptured, before = netting.one_sample()
    estimate = chapman(marked, caught, recaptured, level=level)
    # Marks went in after some netting: add what that had removed, known without error.
    return replace(
        estimate,
        note=joined(estimate.note, netting.counted_marks),
        abundance=estimate.abundance + before,
        low=estimate.low + before,
        high=estimate.high + before,
    )


def _markings(formula: Callable[..., Estimate], netting: Netting, level: float) -> Estimate:
    samples = netting.samples()
    estimate = formula(
        samples.caught,
        samples.recaptured,
        samples.marks,
        removed_before=samples.removed_before,
        level=level,
    )
    return replace(estimate, note=joined(estimate.note, netting.counted_marks))


def _passes(formula: Callable[..., Estimate], netting: Netting, level: float) -> Estimate:
    passes = netting.passes()
    return _per_pull(formula(passes.catch, level=level), float(passes.effort[0]), passes.unit)


def _leslie(
    formula: Callable[..., Estimate], netting: Netting, level: float, *, hours: bool = False
) -> Estimate:
    steps = netting.steps(hours=hours)
    return formula(steps.catch, steps.effort, removed=steps.removed, level=level)


def _delury(
    formula: Callable[..., Estimate], netting: Netting, level: float, *, hours: bool = False
) -> Estimate:
    steps = netting.effort_only(hours=hours)
    return formula(steps.catch, steps.effort, level=level)


def _per_pull(estimate: Estimate, pulls: float, unit: str) -> Estimate:
    """Turn catchability per pass into that per pull: a fish escapes a pass if it escapes all."""
    p, error = estimate.catchability, estimate.catchability_se
    if pulls == 1 or p is None or error is None:
        return estimate
    escapes = (1 - p) ** (1 / pulls)
    return replace(
        estimate,
        catchability=1 - escapes,
        catchability_se=error * escapes / (1 - p) / pulls if p < 1 else error,
        note=joined(estimate.note, f"{p:.2g} per {unit} of {pulls:g} pulls"),
    )


def _noting_known(estimate: Estimate, known: float) -> Estimate:
    if estimate.abundance >= known:
        return estimate
    note = f"below the {fish(known)} fish known to have been there (removed, or still marked)"
    return replace(estimate, note=joined(estimate.note, note))
