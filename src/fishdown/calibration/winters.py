"""What becomes of a drawn lake over the winter, and of its mean weight from year to year.

As in `truth`, the formulas are those of `models/README.md`, section "Years", written again in plain
NumPy; the transition and the densities of `fishdown.models` have no part in it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    import xarray as xr

    from fishdown.typing import FloatArray


def recruits_of_lakes(values: dict[str, FloatArray], young_eaten: FloatArray) -> None:
    """Multiply the recruits of lakes whose young are eaten; keep the others as ``recruits_open``.

    Parameters
    ----------
    values : dict of str to ndarray
        Parameters drawn, ``recruits`` (fish/ha a year, shape (lake,)) as if nothing ate the young.
    young_eaten : ndarray, shape (lake,)
        1 where they are eaten, else 0.
    """
    values["recruits_open"] = values["recruits"]
    values["recruits"] = values["recruits"] * values["young_eaten_effect"] ** young_eaten


def winter(
    values: dict[str, FloatArray],
    lakes: xr.Dataset,
    lake: int,
    left: float,
    marks: int,
    rng: np.random.Generator,
) -> tuple[float, int]:
    """Draw what a lake holds at the start of the next season.

    Parameters
    ----------
    values : dict of str to ndarray
        Parameters drawn, by the names of the graph.
    lakes : xarray.Dataset
        Those of the campaign.
    lake : int
        Position of the lake.
    left, marks : float and int
        Fish that the season left, and marked fish among them.
    rng : numpy.random.Generator

    Returns
    -------
    fish : float
        In the lake next season, marked ones included; not rounded. Log-normal, of the mean and
        variance of the survivors plus the varying recruits (Fenton 1960), times all else.
    lasted : int
        Marks still there, each by the same chance.
    """
    area, connected = float(lakes["area"].values[lake]), bool(lakes["connected"].values[lake])
    phi, tau, c = (
        float(values[name][0]) for name in ("survival", "process_error", "recruit_variation")
    )
    e = float(values["exchange"][0]) if connected else 0.0
    outside = float(values["outside_density"][0]) * area
    young = float(values["recruits"][lake]) * area
    mean = phi * ((1.0 - e) * max(left, 0.0) + e * outside) + young
    variance = np.log1p((c * young / mean) ** 2) + tau**2
    fish = mean * np.exp(np.sqrt(variance) * rng.normal() - 0.5 * variance)
    # A model that leaves marks out has no chance of theirs to last.
    kappa = float(values["overwinter_retention"][0]) if "overwinter_retention" in values else 1.0
    return float(fish), int(rng.binomial(marks, phi * (1.0 - e) * kappa))
