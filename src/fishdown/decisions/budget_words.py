"""A budget for several lakes in words that a manager reads."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fishdown.decisions.budget_lakes import kg_above, lakes_below
from fishdown.units import label, shown_change
from fishdown.words import counted, listed_names, with_error

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fishdown.decisions.budget_lakes import LakeDays
    from fishdown.decisions.budget_splits import Split, Splits

CAUTION = (
    "Netting needs permits and trained crews. Boats at night, raised net walls, falling weights "
    "and lines under tension can injure. Local codes and licensed practice prevail over this table."
)
BUDGETED = (
    "Each lake keeps its own pace; whether the crew can be where it is wanted on each day is not "
    "looked at. Field days are judged from today: look again after the first of them."
)


def sentences(splits: Splits, never_netted: Sequence[str] = ()) -> tuple[str, ...]:
    """Say which lakes get the nets, what that is expected to do, and what it takes for granted.

    Within `fishdown.units.shown_in`.

    Parameters
    ----------
    never_netted : sequence of str
        Lakes without a pull on record.
    """
    said = []
    if splits.sharing:
        failed = [lake.lake for lake in splits.sharing if lake.failure]
        if failed:
            said.append(
                f"WARNING, the gate failed in {listed_names(failed)}: this may be far wrong."
            )
        said += [_best(splits), *_others(splits), *_ranges(splits), *_unspent(splits)]
    said += [f"No field days for {lake.lake}: {lake.reason}." for lake in splits.lakes
             if lake.reason]  # fmt: skip
    said += [f"No field days for {lake}: it has no pull on record." for lake in never_netted]
    if splits.sharing:
        said += [*_cautions(splits), BUDGETED]
    return (*said, CAUTION)


def days_in_each(days: Sequence[int]) -> str:
    """Say how many days each of several lakes has; empty if they are not much the same."""
    fewest, most = min(days, default=0), max(days, default=0)
    if len(days) < 2 or fewest == 0 or most - fewest > 1:
        return ""
    return f"{' or '.join(f'{number:,}' for number in sorted({fewest, most}))} in each lake"


def days_by_lake(splits: Splits, split: Split) -> str:
    """Return the field days of each lake that has any, the most first."""
    if alike := days_in_each(split):
        return alike
    given = sorted(zip(splits.sharing, split, strict=True), key=lambda pair: -pair[1])
    said = [f"{days:,} in {lake.lake}" for lake, days in given if days]
    if not said:
        return "none in any lake"
    without = len(given) - len(said)
    return listed_names(
        [*said, *([f"none in {counted(without, 'other lake')}"] if without else [])]
    )


def limit_words(splits: Splits) -> str:
    """Return what there is to be shared out."""
    limits = []
    if splits.days is not None:
        limits.append(counted(splits.days, "field day"))
    if splits.amount is not None:
        money = f"{splits.amount:,.0f} {splits.currency}".rstrip()
        limits.append(money if splits.currency else f"an amount of {money}")
    return " and ".join(limits)


def expected(splits: Splits, split: Split) -> str:
    """Return the number that a split is judged by, and its Monte-Carlo error."""
    if splits.aim == "biomass":
        kg, error = (shown_change(value, "kg") for value in kg_above(splits.sharing, split))
        return with_error(kg, error)
    return with_error(*lakes_below(splits.sharing, split))


def outcome(splits: Splits, split: Split) -> str:
    """Return the same with what it counts."""
    number = expected(splits, split)
    if splits.aim == "biomass":
        return f"{number} {label('kg')} above the thresholds"
    return f"{number} of {counted(len(splits.sharing), 'lake')} below"


def _shortfall(splits: Splits, split: Split) -> str:
    short, error = splits.behind(split)
    if splits.aim == "biomass":
        kg, kg_error = (shown_change(value, "kg") for value in (short, error))
        return f"{with_error(kg, kg_error)} {label('kg')} more"
    return f"{with_error(short, error)} lakes fewer"


def _best(splits: Splits) -> str:
    what = (
        label("the fewest kilograms expected above the thresholds")
        if splits.aim == "biomass"
        else "the highest expected number of lakes below their thresholds"
    )
    return (
        f"With {limit_words(splits)}, the split of field days with {what} is "
        f"{days_by_lake(splits, splits.best)}. It leaves {outcome(splits, splits.best)}, against "
        f"{expected(splits, splits.none)} without more netting (expected numbers; ± is the "
        "Monte-Carlo standard error)."
    )


def _others(splits: Splits) -> list[str]:
    said = []
    for name, split in (
        ("An equal split", splits.equal),
        ("All to the lake nearest above its threshold first", splits.nearest),
    ):
        days = days_by_lake(splits, split)
        if split == splits.best:
            said.append(f"{name} is this split.")
        elif splits.told_apart(split):
            said.append(
                f"{name} ({days}) leaves {outcome(splits, split)}: {_shortfall(splits, split)}, as "
                "judged by draws that did not choose the best."
            )
        else:
            said.append(
                f"{name} ({days}) leaves {outcome(splits, split)}; the draws do not distinguish it "
                "from the best."
            )
    return said


def _ranges(splits: Splits) -> list[str]:
    found = [
        f"{min(days):,} to {max(days):,} in {lake.lake}"
        for lake, days in zip(splits.sharing, zip(*splits.alike, strict=True), strict=True)
        if min(days) < max(days)
    ]
    if not found:
        return []
    return [
        f"{counted(len(splits.alike) - 1, 'other split')} that {_was(len(splits.alike) - 1)} found "
        f"cannot be distinguished from the best by these draws, with {listed_names(found)}."
    ]


def _unspent(splits: Splits) -> list[str]:
    said = []
    full = [lake.lake for lake, days in zip(splits.sharing, splits.best, strict=True)
            if days == lake.most and _wants_more(splits, lake.most, lake.cost_a_day)]  # fmt: skip
    if full:
        said.append(f"No more field days than these can be predicted in {listed_names(full)}.")
    if splits.days is not None and sum(splits.best) < splits.days and splits.amount is None:
        left = splits.days - sum(splits.best)
        said.append(
            f"{counted(left, 'field day')} {'is' if left == 1 else 'are'} left over: no lake would "
            "gain by more."
        )
    return said


def _wants_more(splits: Splits, most: int, cost: float) -> bool:
    """Tell whether the budget would have allowed one lake more than can be predicted."""
    within_days = splits.days is None or most < splits.days
    return within_days and (splits.amount is None or (most + 1) * cost <= splits.amount)


def _was(number: int) -> str:
    return "was" if number == 1 else "were"


def _cautions(splits: Splits) -> list[str]:
    said = []
    used = [lake for lake, days in zip(splits.sharing, splits.best, strict=True) if days]
    colder = [lake for lake in used if lake.colder]
    if colder:
        said.append(
            f"Some pulls{_where(colder, used)} may be in water colder than any reading at its "
            "lake's pulls: there the prediction depends on the temperature–catchability curve and "
            "the priors, not on the records."
        )
    later = [lake for lake in used if lake.later_year]
    if later:
        said.append(
            f"Some pulls{_where(later, used)} lie in a later year: mortality, recruitment and "
            "growth until then are not included."
        )
    return said


def _where(lakes: Sequence[LakeDays], used: Sequence[LakeDays]) -> str:
    """Name lakes, unless it is all of those that get field days."""
    return "" if len(lakes) == len(used) > 1 else f" in {listed_names(lake.lake for lake in lakes)}"
