"""The fixed design that a model is calibrated on: lakes, days, nets, marks, thermometer."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from fishdown.campaign import from_records
from fishdown.models.data import fitting_spec
from fishdown.records.areas import no_areas
from fishdown.records.checked import Records
from fishdown.records.covariates import COVARIATES, Covariate
from fishdown.records.movements import no_movements
from fishdown.records.second_looks import no_second_looks
from fishdown.records.settings import Settings
from fishdown.records.surveys import no_surveys
from fishdown.records.tables import PEN, empty_frame

if TYPE_CHECKING:
    from fishdown.campaign import Campaign
    from fishdown.models.spec import ModelSpec
    from fishdown.typing import BoolArray, IntArray

FIRST_DAY = np.datetime64("2025-06-15")
# From marking to the first pulls.
DAYS_BEFORE = 30


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
    years : tuple of int
        Years in which every lake is netted and its fish measured, counted from the first; those
        between them are seasons without netting.
    marked_years : tuple of int
        Those of them in which the batches are marked.
    connected, young_eaten : tuple of int
        Positions of lakes with connected waters, and of those whose young are eaten.
    weighed, measured, both : int
        Fish of each lake and year of which a weight alone, a length alone, and both are taken.
    examined : int or None
        Fish looked at in each pull, and put back alive; None where pulls take what they take.
    looked_twice : int
        Marked fish found in the first season by two looks together.
    fewest_caught, most_caught, fewest_recaptured : int
        A campaign is calibrated on only if each lake's totals over all years lie within.
    """

    areas: tuple[float, ...]
    days: tuple[int, ...]
    temperatures: tuple[float, ...]
    nets: int
    batches: tuple[tuple[str, str, int], ...] = (("spring", "fin_clip", 150),)
    years: tuple[int, ...] = (0,)
    marked_years: tuple[int, ...] = (0,)
    connected: tuple[int, ...] = ()
    young_eaten: tuple[int, ...] = ()
    weighed: int = 30
    measured: int = 0
    both: int = 0
    examined: int | None = None
    looked_twice: int = 0
    fewest_caught: int = 30
    most_caught: int = 200_000
    fewest_recaptured: int = 3

    @property
    def marked(self) -> int:
        """Fish marked in each lake in a year of marking."""
        return sum(number for _, _, number in self.batches)

    @property
    def batch_season(self) -> IntArray:
        """Position of the season of each batch, lake by lake and year by year, shape (batch,)."""
        seasons = 1 + self.years[-1]
        return np.array(
            [
                lake * seasons + year
                for lake in range(len(self.areas))
                for year in self.marked_years
                for _ in self.batches
            ],
            dtype=np.int64,
        )

    @property
    def released(self) -> IntArray:
        """Fish marked in each batch of all lakes and years, shape (batch,)."""
        times = len(self.areas) * len(self.marked_years)
        return np.tile([number for _, _, number in self.batches], times)

    @property
    def netted(self) -> BoolArray:
        """Whether each season is one of netting, shape (season,)."""
        a_lake = np.isin(np.arange(1 + self.years[-1]), self.years)
        return np.tile(a_lake, len(self.areas))

    def template(self) -> Campaign:
        """Return the campaign as planned; numbers that the nets will tell only hold their place."""
        lakes = [f"Lake {number}" for number in range(1, len(self.areas) + 1)]
        pulls = [
            self._pull(lake, year, turn, net)
            for lake in lakes
            for year in self.years
            for turn in range(len(self.days))
            for net in range(self.nets)
        ]
        before = np.timedelta64(DAYS_BEFORE, "D")
        marked = [
            {"lake": lake, "season": _label(year), "row": 0, "date": _first_day(year) - before,
             "batch": name, "mark": mark, "released": number, "died": 0,
             **dict.fromkeys(PEN, 0), "order": np.nan}
            for lake in lakes for year in self.marked_years for name, mark, number in self.batches
        ]  # fmt: skip
        measured = [
            {"lake": lake, "season": _label(year), "row": 0, **self._caught(year, fish),
             "length_mm": length, "weight_kg": weight}
            for lake in lakes
            for year in self.years
            for length, weight, number in (
                (np.nan, 1.0, self.weighed), (400.0, np.nan, self.measured), (400.0, 1.0, self.both)
            )
            for fish in range(number)
        ]  # fmt: skip
        bycatch = {name: pd.Series(dtype=object)
                   for name in ("lake", "season", "net", "species", "count", "dead")}  # fmt: skip
        table = {
            "lake": lakes,
            "area_ha": self.areas,
            "threshold_kg_per_ha": 100.0,
            "connected": [lake in self.connected for lake in range(len(lakes))],
            "young_eaten": [lake in self.young_eaten for lake in range(len(lakes))],
        }
        planned = from_records(
            Records(
                path="simulated",
                settings=Settings("Calibration", "common carp", 100.0),
                lakes=pd.DataFrame(table),
                areas=no_areas(),
                marked=pd.DataFrame(marked),
                pulls=pd.DataFrame(pulls),
                recaptures=pd.DataFrame(),
                measured=pd.DataFrame(measured),
                movements=no_movements(),
                surveys=no_surveys(),
                second_looks=no_second_looks(),
                bycatch=pd.DataFrame({**bycatch, "date": pd.Series(dtype="datetime64[ns]")}),
                bycatch_limits=empty_frame("bycatch_limits"),
                species_names=empty_frame("species_names"),
                tags=pd.DataFrame(),
                detections=pd.DataFrame(),
                clock_checks=pd.DataFrame(),
                warnings=(),
                hashes={},
            )
        )
        # Fish of two marks will be looked at for both.
        double = (planned.batches["mark"] == "both").astype(float)
        found = np.zeros(planned.seasons.sizes["season"])
        found[0] = self.looked_twice
        return replace(
            planned,
            batches=planned.batches.assign(both_seen=double),
            seasons=planned.seasons.assign(found_first=("season", found)),
        )

    def _caught(self, year: int, fish: int) -> dict[str, Any]:
        # In turn as the crew marks, and from a net on each day of netting.
        turn = fish % (1 + len(self.days)) - 1
        days = -DAYS_BEFORE if turn < 0 else self.days[turn]
        net = "" if turn < 0 else f"net {turn % self.nets + 1}"
        return {"date": _first_day(year) + np.timedelta64(days, "D"), "net": net}

    def _pull(self, lake: str, year: int, turn: int, net: int) -> dict[str, Any]:
        # The thermometer was forgotten once in each lake.
        forgotten = year == 0 and turn == len(self.days) // 2 and net == 0
        caught = self.examined or 1
        marked = self.marked * sum(earlier <= year for earlier in self.marked_years)
        return {
            "lake": lake, "season": _label(year), "row": 0,
            "date": _first_day(year) + np.timedelta64(self.days[turn], "D"),
            "net": f"net {net + 1}", "order": net + 1, "caught": caught, "recaptured": 0.0,
            "examined": float(caught), "released_again": caught, "removed": 0,
            "marks_at_large": float(marked), "marks_removed": 0.0,
            **{name: _usual(one, turn, net) for name, one in COVARIATES.items()},
            "water_temp_c": np.nan if forgotten else self.temperatures[turn],
            "spoiled": False,
            "bycatch_counted": False,
        }  # fmt: skip


def _usual(covariate: Covariate, turn: int, net: int) -> float:
    """Return a covariate from the usual range: every second net, or evenly over the pulls."""
    low, high = covariate.usual
    part = net % 2 if covariate.of_net else (3 * turn + 2 * net) % 9 / 8.0
    return low + part * (high - low)


def design_for(spec: ModelSpec) -> Design:
    """Return a design that feeds every part of a model, large enough to see past the priors."""
    linked = spec.part("years") == "linked"
    connected = (0,) if linked or spec.part("immigration") == "steady" else ()
    areas = (12.0, 45.0, 160.0) if spec.part("pooling") == "lakes" else (40.0,)
    design = Design(
        areas, (0, 1, 2, 3), (20.0,) * 4, nets=1, batches=_batches(spec), connected=connected
    )
    if spec.part("lengths") != "none":
        design = replace(design, weighed=10, measured=20, both=30)
    if linked:
        # In the last year only marks that lasted are at large.
        design = replace(
            design, years=(0, 1, 3), marked_years=(0, 1), young_eaten=(len(areas) - 1,)
        )
    if spec.part("evidence") == "depletion":
        # Marks would bound the fish in a way that a model which leaves them out does not know of.
        design = replace(design, batches=(("none", "fin_clip", 0),), fewest_recaptured=0)
    if spec.part("evidence") == "marks":
        many = (("spring", "fin_clip", 200),)
        days, temperatures = (0, 14, 28, 42, 56), (20.0,) * 5
        return replace(design, days=days, temperatures=temperatures, batches=many, examined=150)
    if spec.part("catch") == "chance":
        return design
    if linked:
        return replace(
            design,
            days=(0, 20, 40, 60),
            temperatures=(21.0, 23.5, 17.0, 10.0),
            nets=1 if (spec.part("nets"), spec.part("mesh")) == ("alike", "none") else 2,
        )
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
        # Of one mark: a group of several kinds would be counted by their mean.
        return (("spring", mark, 150),)
    return (("spring", mark, 90), ("summer", "fin_clip", 60))


def _label(year: int) -> str:
    return str(_first_day(year).astype("datetime64[Y]"))


def _first_day(year: int) -> np.datetime64:
    """Return the day of the first pulls of a year, by its number in the design."""
    first = FIRST_DAY.astype("datetime64[M]")
    into = FIRST_DAY - first.astype("datetime64[D]")
    day: np.datetime64 = (first + np.timedelta64(12 * year, "M")).astype("datetime64[D]") + into
    return day
