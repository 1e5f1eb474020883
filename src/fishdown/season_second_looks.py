"""Fish that were looked at twice for marks, season by season."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    import pandas as pd

    from fishdown.typing import FloatArray, IntArray

SECOND_LOOK_LABELS: dict[str, tuple[str | None, str]] = {
    "found_first": ("count", "marked fish, of those looked at twice, that the first look found"),
    "found_second": ("count", "marked fish, of those looked at twice, that only the second found"),
}


def season_second_looks(
    looks: pd.DataFrame, season_index: IntArray, seasons: int
) -> dict[str, FloatArray]:
    """Add up the marked fish of each season that the two looks found.

    Parameters
    ----------
    looks : pandas.DataFrame
        Clean.
    season_index : ndarray of int, shape (row,)
        Position of each row's season; −1 outside every season.
    seasons : int

    Returns
    -------
    dict of str to ndarray, shape (season,)
        The variables of `SECOND_LOOK_LABELS`.
    """
    inside = season_index >= 0
    return {
        name: np.bincount(
            season_index[inside],
            weights=looks[name].to_numpy(dtype=float)[inside],
            minlength=seasons,
        )
        for name in SECOND_LOOK_LABELS
    }
