"""The fixed design that a model is calibrated on: lakes, days, nets, marks, thermometer."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from fishdown.campaign import from_records
from fishdown.errors import FitError
from fishdown.models.data import fitting_spec
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
    batches : tuple of (str, str, int)
        Name, mark and number of fish of each batch marked in a lake.
    weighed, measured, both : int
        Fish of each lake of which a weight alone, a length alone, and both are taken.
    examined : int or None
        Fish looked at in each pull, and put back alive; None where pulls take what they take.
    fewest_caught, most_caught, fewest_recaptured : int
        A campaign is calibrated on only if each lake's totals lie within.
    """

    areas: tuple[float, ...]
    days: tuple[int, ...]
    temperatures: tuple[float, ...]
    nets: int
    batches: tuple[tuple[str, str, int], ...] = (("spring", "fin_clip", 150),)
    weighed: int = 30
    measured: int = 0
    both: int = 0
    examined: int | None = None
    fewest_caught: int = 30
    most_caught: int = 200_000
    fewest_recaptured: int = 3

    @property
    def marked(self) -> int:
        """Fish marked in each lake."""
        return sum(number for _, _, number in self.batches)

    def template(self) -> Campaign:
        """Return the campaign as planned; numbers that the nets will tell only hold their place."""
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
            {"lake": lake, "season": season, "row": 0, "date": before, "batch": name,
             "mark": mark, "released": number, "died": 0, "order": np.nan}
            for lake in lakes for name, mark, number in self.batches
        ]  # fmt: skip
        measured = [
            {"lake": lake, "season": season, "row": 0, "date": FIRST_DAY, "net": "",
             "length_mm": length, "weight_kg": weight}
            for lake in lakes
            for length, weight, number in (
                (np.nan, 1.0, self.weighed), (400.0, np.nan, self.measured), (400.0, 1.0, self.both)
            )
            for _ in range(number)
        ]  # fmt: skip
        bycatch = {name: pd.Series(dtype=object)
                   for name in ("lake", "season", "net", "species", "count", "dead")}  # fmt: skip
        table = {
            "lake": lakes,
            "area_ha": self.areas,
            "threshold_kg_per_ha": 100.0,
            "connected": False,
            "young_eaten": False,
        }
        planned = from_records(
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
        # Fish of two marks will be looked at for both.
        double = (planned.batches["mark"] == "both").astype(float)
        return replace(planned, batches=planned.batches.assign(both_seen=double))

    def _pull(self, lake: str, season: str, turn: int, net: int) -> dict[str, Any]:
        # The thermometer was forgotten once in each lake.
        forgotten = turn == len(self.days) // 2 and net == 0
        caught = self.examined or 1
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

    Raises
    ------
    FitError
        For a model whose lakes cannot be drawn from its priors yet.
    """
    if spec.part("years") == "linked":
        raise FitError(
            f"model {spec.name}: linked years cannot be drawn from their priors yet, so this model "
            "is not calibrated by simulation"
        )
    areas = (12.0, 45.0, 160.0) if spec.part("pooling") == "lakes" else (40.0,)
    design = Design(areas, (0, 1, 2, 3), (20.0,) * 4, nets=1, batches=_batches(spec))
    if spec.part("lengths") != "none":
        design = replace(design, weighed=10, measured=20, both=30)
    if spec.part("evidence") == "marks":
        many = (("spring", "fin_clip", 200),)
        return replace(design, days=(0, 14, 28, 42), batches=many, examined=150)
    if spec.part("catch") == "chance":
        return design
    return replace(
        design,
        days=(0, 3, 24, 27, 48, 51, 72, 75, 96, 99),
        temperatures=(21.0, 22.5, 24.0, 23.0, 21.0, 19.5, 16.0, 15.0, 11.0, 9.5),
        nets=4 if spec.part("nets") == "differ" else 2,
    )


def fed(spec: ModelSpec) -> tuple[ModelSpec, tuple[str, ...]]:
    """Leave out the parts of a model that its design does not feed.

    Returns
    -------
    spec : ModelSpec
    left_out : tuple of str
        Parts that are left out, as the model file has them.
    """
    fitted, _ = fitting_spec(design_for(spec).template(), spec)
    return fitted, tuple(
        f'{part} = "{choice}"' for part, choice in spec.parts.items() if fitted.part(part) != choice
    )


def _batches(spec: ModelSpec) -> tuple[tuple[str, str, int], ...]:
    mark = "both" if spec.part("marks") == "shed" else "fin_clip"
    if spec.part("batches") == "together":
        # Of one mark: a pool of several kinds would be counted by their mean.
        return (("spring", mark, 150),)
    return (("spring", mark, 90), ("summer", "fin_clip", 60))
