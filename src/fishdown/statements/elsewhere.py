"""Marked fish of one lake that were seen in another: at least so many moved."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pandas as pd

from fishdown.marks_elsewhere import share_seen

if TYPE_CHECKING:
    from fishdown.posterior.fitted import FittedCampaign

COLUMNS = ("marked_in", "seen_in", "marked", "caught", "heard", "share", "share_low", "share_high")


def elsewhere(fit: FittedCampaign) -> pd.DataFrame:
    """Tabulate marked fish that were seen in another lake than their own; no estimate uses them.

    Parameters
    ----------
    fit : FittedCampaign

    Returns
    -------
    pandas.DataFrame
        Columns `COLUMNS`, one row for each pair of lakes with any: fish marked in the one that can
        be told from marks of the other, how many of them catches of the other had, and how many
        others antennas there heard; the share that was seen, with exact 90 % limits.
    """
    names = ("marked_in", "seen_in", "marked_there", "caught_here", "heard_here")
    pairs = zip(*(fit.campaign.elsewhere[name].values.tolist() for name in names), strict=True)
    rows = [
        (home, lake, marked, caught, heard, *share_seen(caught + heard, marked))
        for home, lake, marked, caught, heard in pairs
    ]
    return pd.DataFrame(rows, columns=list(COLUMNS))
