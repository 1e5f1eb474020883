"""The pulls to come in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fishdown.intervals import low_median_high
from fishdown.units import label, shown, shown_in
from fishdown.words import (
    amount,
    counted,
    likelihood_words,
    listed_names,
    percent,
    percent_with_error,
    with_error,
)

if TYPE_CHECKING:
    from fishdown.decisions.lake_ahead import LakeAhead


def sentence(lake: LakeAhead, until: float) -> str:
    """Describe the prediction for the pulls to come in one lake.

    Parameters
    ----------
    until : float
        Wanted probability of being below the threshold.
    """
    place = f"{lake.lake} in {lake.season}"
    if not lake.shown:
        return f"Pulls ahead withheld for {place}: {lake.failure}."
    warning = f"WARNING, the gate failed ({lake.failure}): " if lake.failure else ""
    with shown_in(lake.units):
        said = [f"{warning}{_outcome(lake, place)}", *_enough(lake, until)]
        said += [*_stopping(lake), *_cautions(lake)]
    return " ".join(said)


def money(lake: LakeAhead, value: float) -> str:
    """Return a sum of money, in whole units, with its currency if it has a name."""
    return f"{value:,.0f} {lake.terms.currency}".rstrip()


def money_with_error(lake: LakeAhead, value: float, error: float) -> str:
    """Return a sum of money with its Monte-Carlo standard error, which is never called nothing."""
    return f"{with_error(value, error, whole=True)} {lake.terms.currency}".rstrip()


def _outcome(lake: LakeAhead, place: str) -> str:
    pulls = counted(lake.pulls, "more pull")
    if lake.biomass is None or lake.below is None:
        low, median, high = (amount(x) for x in low_median_high(lake.fish[:, :, -1]))
        return (
            f"After {pulls}, {place} would hold {median} fish (90 % interval {low} to {high}); "
            f"without weights biomass density ({label('kg/ha')}) cannot be estimated."
        )
    low, median, high = (amount(shown(x, "kg/ha")) for x in low_median_high(lake.biomass[:, :, -1]))
    probability, error = lake.below[:, -1]
    unit = label("kg/ha")
    return (
        f"After {pulls}, {place} would hold {median} {unit}{lake.at_area} (90 % interval {low} to "
        f"{high}); it is {likelihood_words(probability)} "
        f"({percent_with_error(probability, error)}) that this is below the threshold of "
        f"{amount(shown(lake.threshold, 'kg/ha'))} {unit}, against {percent(lake.below[0, 0])} now."
    )


def _enough(lake: LakeAhead, until: float) -> list[str]:
    if lake.below is None:
        return []
    pulls, low, high = lake.needed(until)
    goal = f"a probability of {100.0 * until:g} %"
    if pulls == 0:
        return [f"For {goal}, no more pulls are needed."]
    if pulls is None:
        return [f"For {goal}, {counted(lake.pulls, 'pull')} {_are(lake.pulls)} not enough."]
    span = f" ({pull_range(low, high, lake.pulls)} within Monte-Carlo error)" if low != high else ""
    cost = f", at {money(lake, lake.cost[pulls])}" if lake.cost is not None else ""
    return [f"For {goal}, it takes {counted(pulls, 'pull')}{span}{cost}."]


def pull_range(low: int | None, high: int | None, most: int) -> str:
    """Return a range of numbers of pulls; without an upper end, more than were planned."""
    ends = (str(end) if end is not None else f"more than {most}" for end in (low, high))
    return " to ".join(ends)


def _stopping(lake: LakeAhead) -> list[str]:
    said = []
    found = lake.losses
    if found is not None:
        now, least = (
            money_with_error(lake, found.mean[pull], found.error[pull]) for pull in (0, found.best)
        )
        said.append(
            f"Stopping now has the least expected loss, {now}"
            if found.best == 0
            else f"The expected loss is least after {counted(found.best, 'more pull')}, {least}, "
            f"against {now} for stopping now"
        )
        if len(found.alike) > 1:
            said[-1] += f"; the draws do not distinguish {_listed(found.alike)} pulls"
        said[-1] += "."
        if found.best == lake.pulls:
            said.append("More pulls than were simulated may have a smaller expected loss.")
    if lake.break_even is not None:
        pays, pulls = lake.break_even
        if pulls == 0:
            falls = "is below it from the first pull on"
        elif pulls < lake.pulls:
            falls = f"falls below it after {counted(pulls, 'pull')}"
        else:
            falls = f"stays above it for all {lake.pulls} pulls"
        said.append(
            f"The break-even catch is {amount(shown(pays, 'kg'))} {label('kg')} per pull; the "
            f"expected catch of the pulls to come {falls}."
        )
    return said


def _are(number: int) -> str:
    return "is" if number == 1 else "are"


def _listed(numbers: tuple[int, ...]) -> str:
    first, last = numbers[0], numbers[-1]
    if len(numbers) == last - first + 1 and len(numbers) > 2:
        return f"{first} to {last}"
    return listed_names(numbers)


def _cautions(lake: LakeAhead) -> list[str]:
    said = []
    if lake.colder.any():
        first = int(np.flatnonzero(lake.colder)[0])
        said.append(
            f"From pull {first + 1} on, some pulls are predicted in water colder than the coldest "
            f"reading at its pulls ({shown(lake.coldest, '°C'):.1f} {label('°C')}): there the "
            "prediction depends on the temperature–catchability curve and the priors, not on the "
            "records."
        )
    if lake.later_year:
        said.append(
            "Some pulls lie in a later year: mortality, recruitment and growth until then are "
            "not included."
        )
    return said
