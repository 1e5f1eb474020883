"""Make the demo's records: an invented watershed of three lakes, netted for one season.

    python demo/generate.py [FOLDER]

The lakes, nets, numbers and fish are invented. The truth that the records were drawn from goes to
`truth.csv`, so that anyone can see how close a fit comes. The simulation is written apart from the
models on purpose: fish come as a school (the share a pull takes follows a beta distribution),
fewer when the water is cool; each marked fish may die, lose a mark, pass an antenna or be caught.
"""

from __future__ import annotations

import csv
import datetime as dt
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

SEED = 1907
REFERENCE_TEMPERATURE = 20.0
SCHOOLING = 0.65
WEIGHT_EXPONENT = 2.95
# Of the marked fish, beyond the deaths on record, and of their marks at a recapture.
LIVES, CLIP_SEEN, TAG_READ = 0.96, 0.97, 0.98
# What one look at a marked fish finds of that, at night beside the net.
FOUND = 0.95
# A crew late at night looks at so many fish of a catch for marks.
LOOKED_AT = 150
FIRST_NIGHT, SEASON_DAYS = dt.date(2025, 6, 10), 136

Row = dict[str, Any]
Tables = dict[str, list[Row]]


@dataclass(frozen=True)
class Lake:
    """Truth of one lake, and what its crew does."""

    name: str
    area_ha: float
    fish: int
    area_fished_ha: float  # effective area fished per pull at 20 °C
    cooling_factor: float  # what is left of that at 10 °C
    mean_length_mm: float
    nets: tuple[str, ...]
    rounds: int  # nights on which nets are pulled
    marked: int
    weighed_a_night: int
    penned: tuple[int, int, int]  # marked fish kept in a pen, by marking day
    antennas: tuple[str, ...] = ()  # nets with an antenna
    looks_at_all: bool = True  # for marks
    looks_twice: int = 0  # nights on which all fish are looked at again
    boat_hours: float = 0.0  # of electrofishing before and after netting
    seine_haul: int = 0  # fish in one haul of a seine


LAKES = (
    Lake(
        "Quillwater Pond", 24.0, 1_950, 0.75, 0.50, 565.0, ("reed", "weir", "point"), 11, 120, 5,
        (0, 30, 0), boat_hours=4.0,
    ),
    Lake(
        "Ottermoss Lake", 118.0, 9_700, 1.05, 0.42, 540.0, ("N1", "N2", "N3", "N4", "N5"), 11, 260,
        6, (24, 0, 0), antennas=("N2", "N4"), looks_twice=4,
    ),
    Lake(
        "Tinderfen Lake", 260.0, 23_500, 0.85, 0.38, 590.0,
        ("bay 1", "bay 2", "bay 3", "spit", "inlet", "dam"), 10, 420, 7, (0, 0, 0),
        looks_at_all=False, seine_haul=310,
    ),
)  # fmt: skip
BYCATCH = (  # species, mean in a pull, share found dead
    ("channel catfish", 1.6, 0.02),
    ("bigmouth buffalo", 0.7, 0.03),
    ("freshwater drum", 0.4, 0.05),
)
# What the invented permit allows in a season: species, lake, fish, of all or of dead ones.
BYCATCH_LIMITS = (
    ("channel catfish", "all", 290, "all"),
    ("bigmouth buffalo", "all", 10, "dead"),
    ("freshwater drum", "Tinderfen Lake", 12, "all"),
    ("paddlefish", "all", 1, "all"),
    ("all", "all", 15, "dead"),
)
SPECIES_NAMES = {
    "channel catfish": "Ictalurus punctatus",
    "bigmouth buffalo": "Ictiobus cyprinellus",
    "freshwater drum": "Aplodinotus grunniens",
}
# Fish that came or went other than by the nets, and the standard error of a number that is an
# estimate: carp that a flood brought over the inlet, a fishing day, a hot week.
MOVEMENTS = {
    "Quillwater Pond": ((dt.date(2025, 7, 31), "found_dead", 17, 0),),
    "Tinderfen Lake": (
        (dt.date(2025, 7, 3), "moved_in", 260, 60),
        (dt.date(2025, 8, 16), "angled", 96, 0),
    ),
}
# Odds of a marked fish by the boat that it was marked from, and fish an hour of each in the lake.
BOAT_ODDS, BOAT_CATCHES = 1.2, 0.01
SEINED_ON = dt.date(2025, 7, 22)
# How antennas hear: every third night, a mean fish on so many of them, no two alike.
EVERY_NIGHTS, HEARD, UNLIKE = 3, 0.10, 0.15
CLOCK_CHECKS = ((dt.datetime(2025, 6, 10, 12), 4.0), (dt.datetime(2025, 10, 22, 12), 97.0))
ZONE = "-05:00"


@dataclass
class Marked:
    """A marked fish at large: what is left to see of its marks."""

    batch: str
    tag: str  # empty without one
    double: bool
    clip_seen: bool
    tag_read: bool


def water_temperature(day: dt.date, rng: np.random.Generator) -> float:
    """Water temperature of a lake of the temperate zone, °C: warmest in late July."""
    season = np.cos(2.0 * np.pi * (day.timetuple().tm_yday - 207) / 365.25)
    return float(13.5 + 10.0 * season + rng.normal(0.0, 0.7))


def weights(count: int, lake: Lake, rng: np.random.Generator) -> list[tuple[int, float]]:
    """Lengths (mm) and weights (kg) of fish, log-normal in length and about the relation."""
    length = lake.mean_length_mm * np.exp(rng.normal(0.0, 0.13, count))
    weight = 1.55e-8 * length**WEIGHT_EXPONENT * np.exp(rng.normal(0.0, 0.09, count))
    return [(round(mm), round(float(kg), 2)) for mm, kg in zip(length, weight, strict=True)]


class Season:
    """One season of one lake: the fish in it, and the rows that its crew writes down."""

    def __init__(self, lake: Lake, rng: np.random.Generator) -> None:
        """Start with all fish there and none marked."""
        self.lake, self.rng, self.left = lake, rng, lake.fish
        self.marked: list[Marked] = []  # alive
        self.on_record = 0
        self.taken: dict[str, dt.date] = {}  # tag → day of its catch
        self.rows: Tables = {name: [] for name in TABLES}

    def write(self, table: str, **row: object) -> None:
        """Add a row."""
        self.rows[table].append({"lake": self.lake.name, **row})

    def recognisable(self) -> list[Marked]:
        """Return the fish at large whose mark a look finds."""
        return [fish for fish in self.marked if fish.clip_seen or fish.tag_read]

    def mark(self) -> None:
        """Mark fish on three days: on the first with a left clip and a tag, then a right clip."""
        rng = self.rng
        for day, share in enumerate((0.45, 0.35, 0.20)):
            released, double = round(share * self.lake.marked), day == 0
            died, penned = int(rng.binomial(released, 0.015)), self.lake.penned[day]
            clip, tag = CLIP_SEEN, TAG_READ if double else 0.0
            alive = int(rng.binomial(penned, LIVES))
            seen = int(rng.binomial(alive, 1.0 - (1.0 - clip) * (1.0 - tag)))
            pen = (penned, alive, seen) if penned else ("", "", "")
            batch = "spring 2025, left clip and tag" if double else "spring 2025, right clip"
            date = dt.date(2025, 4, 22) + dt.timedelta(days=6 * day + len(self.lake.nets))
            self.write(
                "marked", date=date, batch=batch, mark="both" if double else "fin_clip",
                released=released, died=died,
                **dict(zip(("penned", "pen_alive", "pen_marked"), pen, strict=True)),
            )  # fmt: skip
            for number in range(released - died):
                code = f"7F3.{100_000 * (1 + LAKES.index(self.lake)) + 37 * number:06X}"
                if double:
                    self.write("tags", batch=batch, tag_id=code)
                fish = Marked(batch, code * double, double, rng.random() < clip, rng.random() < tag)
                if rng.random() < LIVES:
                    self.marked.append(fish)
            self.on_record += released - died

    def take(self, fish: int, day: dt.date) -> list[Marked]:
        """Take fish out of the lake at random; returns the recognisable ones among them."""
        there = self.recognisable()
        others = self.left - len(there)
        count = int(self.rng.hypergeometric(len(there), others, fish)) if fish else 0
        taken = [there[place] for place in self.rng.permutation(len(there))[:count]]
        self.marked = [one for one in self.marked if not any(one is gone for gone in taken)]
        self.left -= fish
        self.taken |= {one.tag: day for one in taken if one.tag}
        return taken

    def net(self) -> None:
        """Pull nets night after night; fish come and go by other ways in between."""
        rounds = self.lake.rounds
        moved = list(MOVEMENTS.get(self.lake.name, ()))
        for round_ in range(rounds):
            day = FIRST_NIGHT + dt.timedelta(days=round(round_ * SEASON_DAYS / (rounds - 1)))
            while moved and moved[0][0] < day:
                self.move(*moved.pop(0))
            if self.lake.seine_haul and day > SEINED_ON and not self.rows["surveys"]:
                self.seine()
            self.pull_nets(day, twice=round_ < self.lake.looks_twice)

    def move(self, day: dt.date, movement: str, fish: int, error: int) -> None:
        """Let fish come or go. Of those that come, the crew knows an estimate."""
        if movement == "moved_in":
            self.left += round(fish + error * self.rng.normal())
            marked: int | str = ""
        else:
            marked = len(self.take(fish, day))
        self.write(
            "movements", date=day, movement=movement, fish=fish, marked=marked,
            standard_error=error or "",
        )  # fmt: skip

    def pull_nets(self, day: dt.date, *, twice: bool) -> None:
        """Pull all nets but one, and write down what was in them."""
        lake, rng = self.lake, self.rng
        first = second = 0
        temperature = water_temperature(day, rng)
        written = "" if rng.random() < 0.06 else round(temperature, 1)
        lifted = sorted(rng.permutation(len(lake.nets))[: max(3, len(lake.nets) - 1)])
        for order, which in enumerate(lifted, start=1):
            at = {"date": day, "net": lake.nets[which]}
            hazard = lake.area_fished_ha / lake.area_ha
            hazard *= lake.cooling_factor ** ((REFERENCE_TEMPERATURE - temperature) / 10.0)
            q = 1.0 - np.exp(-hazard)
            a = (1.0 - q) / SCHOOLING**2
            spoiled = rng.random() < 0.02
            share = rng.beta(a, a * (1.0 - q) / q) * (0.1 if spoiled else 1.0)
            caught = int(rng.binomial(self.left, share))
            marked = self.take(caught, day)
            looked_at = caught if lake.looks_at_all else min(caught, LOOKED_AT)
            seen = int(rng.hypergeometric(len(marked), caught - len(marked), looked_at or 0))
            self.write(
                "pulls", **at, order=order, caught=caught,
                examined="" if looked_at == caught else looked_at,
                water_temp_c=written, spoiled="yes" if spoiled else "no",
            )  # fmt: skip
            found = [fish for fish in marked[:seen] if rng.random() < FOUND]
            first += len(found)
            second += int(rng.binomial(seen - len(found), FOUND)) if twice else 0
            for fish in found:
                self.write(
                    "recaptures", **at, batch=fish.batch, count=1,
                    tag_id=fish.tag if fish.tag_read else "",
                    clip_seen="yes" if fish.clip_seen else "no",
                    tag_read=("yes" if fish.tag_read else "no") if fish.double else "",
                )  # fmt: skip
            for species, mean, dead_share in BYCATCH:
                count = int(rng.negative_binomial(0.6, 0.6 / (0.6 + mean)))
                if count:
                    dead = int(rng.binomial(count, dead_share))
                    self.write("bycatch", **at, species=species, count=count, dead=dead)
            if order == 1:
                for mm, kg in weights(min(lake.weighed_a_night, caught), lake, rng):
                    self.write("measured", **at, length_mm=mm, weight_kg=kg)
        if twice:
            self.write("second_looks", date=day, found_first=first, found_second=second)

    def electrofish(self, day: dt.date) -> None:
        """Go out with the boat that the fish were marked from; its fish are put back."""
        hours = self.lake.boat_hours
        if not hours:
            return
        caught = int(self.rng.poisson(BOAT_CATCHES * hours * self.left))
        there = len(self.recognisable())
        odds = BOAT_ODDS * FOUND * there / (self.left - there)
        self.write(
            "surveys", date=day, gear="boat electrofishing", marking_gear="yes", caught=caught,
            examined="", marked=int(self.rng.binomial(caught, odds / (1.0 + odds))),
            effort_h=hours,
        )  # fmt: skip

    def seine(self) -> None:
        """Haul a seine once; its fish are put back."""
        there, caught = len(self.recognisable()), self.lake.seine_haul
        marked = int(self.rng.hypergeometric(there, self.left - there, caught))
        self.write(
            "surveys", date=SEINED_ON, gear="seine", marking_gear="no", caught=caught, examined="",
            marked=int(self.rng.binomial(marked, FOUND)), effort_h="",
        )  # fmt: skip

    def listen(self, tags: list[Marked]) -> None:
        """Hear tagged fish pass the antennas, by clocks that run fast, until they are caught."""
        rng, antennas = self.rng, self.lake.antennas
        if not antennas:
            return
        nights = [
            FIRST_NIGHT + dt.timedelta(days=night) for night in range(2, SEASON_DAYS, EVERY_NIGHTS)
        ]
        total = (1.0 - UNLIKE) / UNLIKE
        for fish in tags:
            chance = rng.beta(HEARD * total, (1.0 - HEARD) * total)
            for night in nights:
                last = self.taken.get(fish.tag, dt.date.max)
                if rng.random() >= chance or night >= last:
                    continue
                # Most come in the hours after midnight.
                moment = dt.datetime.combine(night, dt.time(21))
                moment += dt.timedelta(hours=float(np.clip(rng.normal(4.2, 1.6), 0.0, 9.0)))
                net = antennas[int(rng.integers(len(antennas)))]
                for _ in range(1 + int(rng.poisson(1.5))):
                    self.hear(moment, net, fish.tag)
                    moment += dt.timedelta(seconds=float(rng.exponential(70.0)))
        # Noise that reads like a tag, once.
        for night, code in zip(nights[7::23], ("1C0.0B7714", "9A2.44D0E1"), strict=True):
            self.hear(dt.datetime.combine(night, dt.time(23, 41)), antennas[0], code)
        self.rows["detections"].sort(key=lambda row: (row["time"], row["net"]))
        for moment, fast in CLOCK_CHECKS:
            self.write("clock_checks", time=_written(moment), fast_s=round(fast))

    def hear(self, moment: dt.datetime, net: str, tag: str) -> None:
        """Write one read by the antenna's clock, which drifts from check to check."""
        (first, fast), (last, faster) = CLOCK_CHECKS
        drift = fast + (faster - fast) * ((moment - first) / (last - first))
        time = _written(moment + dt.timedelta(seconds=drift))
        self.write("detections", time=time, net=net, tag_id=tag)

    def tell(self, before: int) -> None:
        """Write down the truth; `before` is how many marks were there before the first pull."""
        lake, left = self.lake, self.left
        fish = [kg for _, kg in weights(200_000, lake, self.rng)]
        mean_weight = float(np.mean(fish))
        truth = {
            "abundance_before": lake.fish,
            "abundance_after": left,
            "removed_share": sum(row["caught"] for row in self.rows["pulls"]) / lake.fish,
            "catchability_at_reference": 1.0 - np.exp(-lake.area_fished_ha / lake.area_ha),
            "temperature_effect": lake.cooling_factor,
            "mean_weight": mean_weight,
            "biomass_before": lake.fish * mean_weight / lake.area_ha,
            "biomass_after": left * mean_weight / lake.area_ha,
            "effective_marks": FOUND * before / self.on_record,
            "marked_at_start": self.on_record,
        }
        for name, value in truth.items():
            self.write("truth", season="2025", quantity=name, value=f"{value:.6g}")


TABLES = (
    "marked", "pulls", "recaptures", "measured", "movements", "surveys", "second_looks", "tags",
    "detections", "clock_checks", "bycatch", "truth",
)  # fmt: skip
# A date or a time stands first, as crews write it.
_FIRST = ("date", "time")


def _written(moment: dt.datetime) -> str:
    return f"{moment.replace(microsecond=0).isoformat()}{ZONE}"


def net_a_lake(lake: Lake, rng: np.random.Generator) -> Tables:
    """Simulate one season of one lake; returns rows by table."""
    season = Season(lake, rng)
    season.mark()
    tagged = [fish for fish in season.marked if fish.double and fish.tag_read]
    before = len(season.recognisable())
    season.electrofish(dt.date(2025, 6, 5))
    season.net()
    season.electrofish(dt.date(2025, 11, 3))
    season.listen(tagged)
    season.tell(before)
    return season.rows


CAMPAIGN = """\
# An invented campaign: lakes, numbers and fish are made up.
title = "Brackenfold watershed, carp removal 2025 (invented)"
species = "common carp"
threshold_kg_per_ha = 100
currency = "EUR"
cost_per_pull = 180
cost_per_field_day = 950
cost_per_penned_fish = 6
cost_per_double_mark = 2
cost_per_antenna = 3200
cost_per_survey = 1400
cost_per_weighed_fish = 2
"""


def main(folder: Path) -> None:
    """Write the campaign into `folder`/watershed and the truth beside it."""
    rng = np.random.default_rng(SEED)
    records = folder / "watershed"
    records.mkdir(parents=True, exist_ok=True)
    (records / "campaign.toml").write_text(CAMPAIGN, encoding="utf-8")
    tables: Tables = {
        "lakes": [{"lake": lake.name, "area_ha": lake.area_ha, "connected": "no"} for lake in LAKES]
    }
    columns = ("species", "lake", "limit", "fish")
    tables["bycatch_limits"] = [dict(zip(columns, row, strict=True)) for row in BYCATCH_LIMITS]
    tables["species_names"] = [
        {"species": species, "scientific_name": name} for species, name in SPECIES_NAMES.items()
    ]
    for lake in LAKES:
        for name, rows in net_a_lake(lake, rng).items():
            tables.setdefault(name, []).extend(rows)
    for name, rows in tables.items():
        path = folder / "truth.csv" if name == "truth" else records / f"{name}.csv"
        fields = sorted(rows[0], key=lambda column: column not in _FIRST)
        with path.open("w", newline="", encoding="utf-8") as file:
            writer = csv.DictWriter(file, fieldnames=fields, lineterminator="\n")
            writer.writeheader()
            writer.writerows(rows)


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent)
