"""Covariates of a pull: numbers that a crew writes down beside the catch.

Here, and nowhere else in the records, each is defined; tables, clean records, campaigns and pulls
to come take them from here.
"""

from __future__ import annotations

from dataclasses import dataclass

from fishdown.records.plausible import PLAUSIBLE, Range


@dataclass(frozen=True)
class Covariate:
    """One covariate.

    Attributes
    ----------
    what : str
        What to write in its column; completes "write …".
    meaning : str
        For the labels of arrays.
    unit : str
        As netCDF readers parse it (UDUNITS).
    within : Range
        What any real net or water can have.
    usual : tuple of float
        From and to, as campaigns have it (common practice, no source).
    of_net : bool
        Whether it belongs to the net, which keeps it; else it differs from pull to pull.
    """

    what: str
    meaning: str
    unit: str
    within: Range
    usual: tuple[float, float]
    of_net: bool = False


# By the column of pulls.csv.
COVARIATES: dict[str, Covariate] = {
    "mesh_mm": Covariate(
        "the mesh size", "mesh of the net", "mm", Range(1, 1_000, "mm"), (50.0, 100.0), of_net=True
    ),
    "bait_days": Covariate(
        "the days of baiting",
        "days of bait before the pull",
        "d",
        Range(0, 1_000, "days"),
        (0.0, 8.0),
    ),
    "effort_h": Covariate(
        "the hours that the net fished for this pull",
        "hours that the net fished for the pull",
        "hour",
        PLAUSIBLE["effort_h"],
        (4.0, 24.0),
    ),
}
