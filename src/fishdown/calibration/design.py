"""The fixed design that a model is calibrated on: lakes, days, nets, marks, thermometer."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from fishdown.campaign import from_records
from fishdown.records import Records
from fishdown.records.settings import Settings

if TYPE_CHECKING:
    from fishdown.campaign import Campaign
    from fishdown.models.spec import ModelSpec

FIRST_DAY = np.datetime64("2025-06-15")


@dataclass(frozen=True)
class Design:
    """What a crew plans before it sets out; it does not depend on the lake's fish.

    Attributes
    ----------
    areas : tuple of float
        One lake each, ha.
    days : tuple of int
        Days of netting, counted from the first.
    temperatures : tuple of float
        Water temperature on each of them, °C.
    nets : int
        Nets in each lake, pulled on each of the days.
    marked : int
        Fish marked in each lake.
    weighed : int
        Fish weighed in each lake.
    examined : int or None
        Fish looked at in each pull, and put back alive; None where pulls take what they take.
    fewest_caught, most_caught, fewest_recaptured : int
        A campaign is calibrated on only if each lake's totals lie within.
    """

    areas: tuple[float, ...]
    days: tuple[int, ...]
    temperatures: tuple[float, ...]
    nets: int
    marked: int = 150
    weighed: int = 30
    examined: int | None = None
    fewest_caught: int = 30
    most_caught: int = 200_000
    fewest_recaptured: int = 3

    def template(self) -> Campaign:
        """Return the campaign as planned: everything but what the nets will hold."""
        lakes = [f"Lake {number}" for number in range(1, len(self.areas) + 1)]
        season = str(FIRST_DAY.astype("datetime64[Y]"))
        pulls = [
            self._pull(lake, season, turn, net)
            for lake in lakes
            for turn in range(len(self.days))
            for net in range(self.nets)
        ]
        before = FIRST_DAY - np.timedelta64(30, "D")
        marked = [
            {"lake": lake, "season": season, "row": 0, "date": before, "batch": "spring",
             "mark": "fin_clip", "released": self.marked, "died": 0, "order": np.nan}
            for lake in lakes
        ]  # fmt: skip
        measured = [
            {"lake": lake, "season": season, "row": 0, "date": FIRST_DAY, "net": "",
             "length_mm": np.nan, "weight_kg": 1.0}
            for lake in lakes for _ in range(self.weighed)
        ]  # fmt: skip
        bycatch = {name: pd.Series(dtype=object)
                   for name in ("lake", "season", "net", "species", "count", "dead")}  # fmt: skip
        table = {
            "lake": lakes,
            "area_ha": self.areas,
            "threshold_kg_per_ha": 100.0,
            "connected": False,
        }
        return from_records(
            Records(
                path="simulated",
                settings=Settings("Calibration", "common carp", 100.0),
                lakes=pd.DataFrame(table),
                marked=pd.DataFrame(marked),
                pulls=pd.DataFrame(pulls),
                recaptures=pd.DataFrame(),
                measured=pd.DataFrame(measured),
                bycatch=pd.DataFrame({**bycatch, "date": pd.Series(dtype="datetime64[ns]")}),
                detections=pd.DataFrame(),
                warnings=(),
                hashes={},
            )
        )

    def _pull(self, lake: str, season: str, turn: int, net: int) -> dict[str, Any]:
        # The thermometer was forgotten once in each lake.
        forgotten = turn == len(self.days) // 2 and net == 0
        caught = self.examined or 0
        return {
            "lake": lake, "season": season, "row": 0,
            "date": FIRST_DAY + np.timedelta64(self.days[turn], "D"),
            "net": f"net {net + 1}", "order": net + 1, "caught": caught, "recaptured": 0.0,
            "released_again": caught, "removed": 0, "marks_at_large": float(self.marked),
            "marks_removed": 0.0, "mesh_mm": 50.0 * (1 + net % 2),
            "bait_days": float((3 * turn + 2 * net) % 9),
            "water_temp_c": np.nan if forgotten else self.temperatures[turn],
            "spoiled": False,
        }  # fmt: skip


def design_for(spec: ModelSpec) -> Design:
    """Return a design that feeds every part of a model, large enough to tell them from the priors.

    Parameters
    ----------
    spec : ModelSpec
    """
    areas = (12.0, 45.0, 160.0) if spec.part("pooling") == "lakes" else (40.0,)
    if spec.part("evidence") == "marks":
        return Design(areas, (0, 14, 28, 42), (20.0,) * 4, nets=1, marked=200, examined=150)
    if spec.part("catch") == "chance":
        return Design(areas, (0, 1, 2, 3), (20.0,) * 4, nets=1)
    days = (0, 3, 24, 27, 48, 51, 72, 75, 96, 99)
    temperatures = (21.0, 22.5, 24.0, 23.0, 21.0, 19.5, 16.0, 15.0, 11.0, 9.5)
    nets = 4 if spec.part("nets") == "differ" else 2
    return Design(areas, days, temperatures, nets=nets)
