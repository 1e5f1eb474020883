"""What a plan asks: what is supposed of the lake, which designs are on offer, what is wanted."""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import datetime as dt

    type Guess = tuple[float, float]

WEIGHED = 60
MARKS, WORLDS = ("fin_clip", "pit_tag"), ("messy", "plain")


@dataclass(frozen=True)
class Candidate:
    """One design of a season.

    Attributes
    ----------
    marked, nets, rounds : int
        Fish to mark, nets, and days on which every net is pulled.
    double_marked : int
        Of the fish marked, those with a fin clip and a tag.
    penned : int
        Marked fish kept in a pen, beside those.
    antenna_nights : int
        Nights before netting on which an antenna listens for the tags.
    surveyed : int
        Fish that another gear looks at before netting.
    weighed : int
        Fish weighed out of the catches.
    """

    marked: int
    nets: int
    rounds: int
    double_marked: int = 0
    penned: int = 0
    antenna_nights: int = 0
    surveyed: int = 0
    weighed: int = WEIGHED

    def possible(self, mark: str) -> bool:
        """Return whether it can be done, and its antenna has tags to listen for."""
        tagged = mark != "fin_clip" or self.double_marked > 0
        return self.double_marked <= self.marked and (tagged or not self.antenna_nights)


@dataclass(frozen=True)
class Plan:
    """What a plan file says.

    Attributes
    ----------
    area_ha, threshold_kg_per_ha : float
    connected : bool
        Whether waters connected with the lake exchange fish with it.
    fish_per_ha, mean_weight_kg, area_fished_ha, temperature_effect, schooling : (float, float)
        Ends of the interval that holds 90 % of what is supposed; both alike for a known number.
        The area fished per pull is stated at 20 °C.
    temperatures : tuple of (int, float)
        Days of the year and their water temperature, °C.
    first_day : datetime.date
        Of netting.
    days_between : float
        From one round to the next.
    mark : {"fin_clip", "pit_tag"}
        Of fish that are not double-marked.
    marking_days : int
        Field days that marking takes.
    costs : dict of str
        By the names of the table ``[costs]``.
    currency : str
    candidates : tuple of Candidate
    half_width, right_and_firm : float or None
        The target: relative half-width of the 90 % interval of abundance, in the middle one of
        the simulated campaigns; chance that the final verdict is right and firm.
    simulations, most_simulations : int
        Campaigns for each candidate, and for one that more campaigns may decide.
    worlds : {"messy", "plain"}
        Whether things go wrong in the simulated lakes.
    seed : int
    """

    area_ha: float
    threshold_kg_per_ha: float
    connected: bool
    fish_per_ha: Guess
    mean_weight_kg: Guess
    area_fished_ha: Guess
    temperature_effect: Guess
    schooling: Guess
    temperatures: tuple[tuple[int, float], ...]
    first_day: dt.date
    days_between: float
    mark: str
    marking_days: int
    costs: dict[str, float]
    currency: str
    candidates: tuple[Candidate, ...]
    half_width: float | None
    right_and_firm: float | None
    simulations: int
    most_simulations: int
    worlds: str
    seed: int

    def cost(self, candidate: Candidate) -> float:
        """Return what a design costs, in the plan's currency."""
        numbers = {
            "per_marked_fish": candidate.marked,
            "per_double_mark": candidate.double_marked,
            "per_penned_fish": candidate.penned,
            "per_antenna": int(candidate.antenna_nights > 0),
            "per_antenna_night": candidate.antenna_nights,
            "per_survey": int(candidate.surveyed > 0),
            "per_weighed_fish": candidate.weighed,
            "per_net": candidate.nets,
            "per_pull": candidate.nets * candidate.rounds,
            "per_field_day": candidate.rounds + self.marking_days,
        }
        return sum(self.costs[name] * number for name, number in numbers.items())

    def order(self, candidate: Candidate) -> tuple[float, int, int]:
        """Return cost, pulls and fish marked: designs are sorted by these, cheapest first."""
        return self.cost(candidate), candidate.nets * candidate.rounds, candidate.marked

    def fingerprint(self, *more: object) -> str:
        """Return a text that differs where the simulated campaigns or their fits would.

        How many campaigns there are, costs and target may change: what was simulated stays good.
        """
        aside = (
            "simulations", "most_simulations", "costs", "currency", "half_width", "right_and_firm"
        )  # fmt: skip
        said = {name: value for name, value in self.__dict__.items() if name not in aside}
        text = json.dumps([said, *more], default=str, sort_keys=True)
        return hashlib.sha256(text.encode()).hexdigest()[:16]
