"""What is asked of the years ahead, checked: all that is wrong at once."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fishdown.decisions.projection import Removal
from fishdown.decisions.years_words import YOUNG
from fishdown.errors import PlanError
from fishdown.statements.probability import says

if TYPE_CHECKING:
    from fishdown.decisions.rates import Given
    from fishdown.posterior.fitted import FittedCampaign

MOST_YEARS = 15


def removal_of(
    fit: FittedCampaign,
    years: int,
    fish: float | None,
    kg: float | None,
    share: float | None,
    young: str | None,
    survival: Given | None,
    recruits: Given | None,
    *others: str,
) -> Removal:
    """Return the removal asked for, or raise with all that is wrong.

    Parameters
    ----------
    *others : str
        What is wrong besides.

    Raises
    ------
    PlanError
    """
    wrong = []
    if not 1 <= years <= MOST_YEARS:
        wrong.append(f"{years} years: write a whole number from 1 to {MOST_YEARS}")
    asked = {"fish": fish, "kg": kg, "share": share}
    given = {kind: value for kind, value in asked.items() if value is not None}
    if len(given) > 1:
        wrong.append("a yearly removal in fish, in kg and as a share: name one of them only")
    for kind, value in given.items():
        most = 1.0 if kind == "share" else np.inf
        if not 0.0 <= value <= most or not np.isfinite(value):
            limits = "between 0 and 1" if kind == "share" else "0 or more"
            wrong.append(f"removal of {value:g} ({kind} a year): write a number, {limits}")
    if kg is not None:
        unweighed = [
            str(fit.campaign.lakes["lake"].values[lake])
            for lake, season in last_seasons(fit).items()
            if not says(fit, "mean_weight_left", season)
        ]
        if unweighed:
            wrong.append(
                f"a removal in kg: the mean weight in {', '.join(unweighed)} is unknown; "
                "give it in fish"
            )
    if young is not None and young not in YOUNG:
        wrong.append(f"young = {young!r}: write one of {', '.join(YOUNG)}")
    for name, ends, most in (("survival", survival, 1.0), ("recruits", recruits, np.inf)):
        if ends is not None and not 0.0 < ends[0] <= ends[1] < most:
            limits = "above 0 and below 1" if most == 1.0 else "above 0"
            wrong.append(
                f"{name} from {ends[0]:g} to {ends[1]:g}: write the lower end first, both {limits}"
            )
    wrong += others
    if wrong:
        raise PlanError("; ".join(wrong))
    kind, value = next(iter(given.items()), ("none", 0.0))
    return Removal(kind, value)  # type: ignore[arg-type]


def last_seasons(fit: FittedCampaign) -> dict[int, int]:
    """Return the last season of each lake, in the order of the lakes."""
    lakes = fit.campaign.seasons["lake_index"].values.tolist()
    return dict(sorted({lake: season for season, lake in enumerate(lakes)}.items()))
