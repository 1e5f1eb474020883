"""Make the demo's records: an invented watershed of three lakes, netted for one season.

    python demo/generate.py [FOLDER]

The lakes, nets, numbers and fish are invented. The truth that the records were drawn from goes to
`truth.csv`, so that anyone can see how close a fit comes. The simulation is written apart from the
models on purpose: fish come as a school (the share a pull takes follows a beta distribution),
fewer of them when the water is cool, and marked fish mix with the others.
"""

from __future__ import annotations

import csv
import datetime as dt
import sys
from dataclasses import dataclass
from pathlib import Path

import numpy as np

SEED = 1907
REFERENCE_TEMPERATURE = 20.0
SCHOOLING = 0.65
WEIGHT_EXPONENT = 2.95


@dataclass(frozen=True)
class Lake:
    """Truth of one lake."""

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


LAKES = (
    Lake("Quillwater Pond", 24.0, 1_950, 0.75, 0.50, 565.0, ("reed", "weir", "point"), 11, 120, 5),
    Lake(
        "Ottermoss Lake",
        118.0,
        9_700,
        1.05,
        0.42,
        540.0,
        ("N1", "N2", "N3", "N4", "N5"),
        11,
        260,
        6,
    ),
    Lake(
        "Tinderfen Lake",
        260.0,
        23_500,
        0.85,
        0.38,
        590.0,
        ("bay 1", "bay 2", "bay 3", "spit", "inlet", "dam"),
        10,
        420,
        7,
    ),
)
BYCATCH = (  # species, mean in a pull, share found dead
    ("channel catfish", 1.6, 0.02),
    ("bigmouth buffalo", 0.7, 0.03),
    ("freshwater drum", 0.4, 0.05),
)
# What the invented permit allows in a season: species, lake, fish, of all or of dead ones.
BYCATCH_LIMITS = (
    ("channel catfish", "all", 220, "all"),
    ("bigmouth buffalo", "all", 10, "dead"),
    ("freshwater drum", "Tinderfen Lake", 30, "all"),
    ("paddlefish", "all", 1, "all"),
    ("all", "all", 15, "dead"),
)
SPECIES_NAMES = {
    "channel catfish": "Ictalurus punctatus",
    "bigmouth buffalo": "Ictiobus cyprinellus",
    "freshwater drum": "Aplodinotus grunniens",
}


def water_temperature(day: dt.date, rng: np.random.Generator) -> float:
    """Water temperature of a lake of the temperate zone, °C: warmest in late July."""
    season = np.cos(2.0 * np.pi * (day.timetuple().tm_yday - 207) / 365.25)
    return float(13.5 + 10.0 * season + rng.normal(0.0, 0.7))


def weights(count: int, lake: Lake, rng: np.random.Generator) -> list[tuple[int, float]]:
    """Lengths (mm) and weights (kg) of fish, log-normal in length and about the relation."""
    length = lake.mean_length_mm * np.exp(rng.normal(0.0, 0.13, count))
    weight = 1.55e-8 * length**WEIGHT_EXPONENT * np.exp(rng.normal(0.0, 0.09, count))
    return [(round(mm), round(float(kg), 2)) for mm, kg in zip(length, weight, strict=True)]


def net_a_lake(lake: Lake, rng: np.random.Generator) -> dict[str, list[dict[str, object]]]:
    """Simulate one season of one lake; returns rows by table."""
    rows: dict[str, list[dict[str, object]]] = {
        name: [] for name in ("marked", "pulls", "measured", "bycatch", "truth")
    }
    at_large = 0
    for night, share in enumerate((0.45, 0.35, 0.20)):
        released = round(share * lake.marked)
        died = int(rng.binomial(released, 0.015))
        at_large += released - died
        rows["marked"].append(
            {
                "date": dt.date(2025, 4, 22) + dt.timedelta(days=6 * night + len(lake.nets)),
                "lake": lake.name,
                "batch": "spring 2025, clip and tag" if night == 0 else "spring 2025, clip",
                "mark": "both" if night == 0 else "fin_clip",
                "released": released,
                "died": died,
            }
        )
    marks_at_start = at_large
    left = lake.fish
    first = dt.date(2025, 6, 10)
    nights = [
        first + dt.timedelta(days=round(i * 136 / (lake.rounds - 1))) for i in range(lake.rounds)
    ]
    for day in nights:
        temperature = water_temperature(day, rng)
        measured_temperature = "" if rng.random() < 0.06 else round(temperature, 1)
        lifted = sorted(rng.permutation(len(lake.nets))[: max(3, len(lake.nets) - 1)])
        for order, which in enumerate(lifted, start=1):
            net = lake.nets[which]
            hazard = lake.area_fished_ha / lake.area_ha
            hazard *= lake.cooling_factor ** ((REFERENCE_TEMPERATURE - temperature) / 10.0)
            q = 1.0 - np.exp(-hazard)
            a = (1.0 - q) / SCHOOLING**2
            spoiled = rng.random() < 0.02
            taken = rng.beta(a, a * (1.0 - q) / q) * (0.1 if spoiled else 1.0)
            caught = int(rng.binomial(left, taken))
            recaptured = int(rng.hypergeometric(at_large, left - at_large, caught)) if caught else 0
            left -= caught
            at_large -= recaptured
            rows["pulls"].append(
                {
                    "date": day,
                    "lake": lake.name,
                    "net": net,
                    "order": order,
                    "caught": caught,
                    "recaptured": recaptured,
                    "water_temp_c": measured_temperature,
                    "spoiled": "yes" if spoiled else "no",
                }
            )
            for species, mean, dead_share in BYCATCH:
                count = int(rng.negative_binomial(0.6, 0.6 / (0.6 + mean)))
                if count:
                    rows["bycatch"].append(
                        {
                            "date": day,
                            "lake": lake.name,
                            "net": net,
                            "species": species,
                            "count": count,
                            "dead": int(rng.binomial(count, dead_share)),
                        }
                    )
            if order == 1:
                for mm, kg in weights(min(lake.weighed_a_night, caught), lake, rng):
                    rows["measured"].append(
                        {
                            "date": day,
                            "lake": lake.name,
                            "net": net,
                            "length_mm": mm,
                            "weight_kg": kg,
                        }
                    )
    mean_weight = float(np.mean([kg for _, kg in weights(200_000, lake, rng)]))
    truth = {
        "abundance_before": lake.fish,
        "abundance_after": left,
        "removed_share": 1.0 - left / lake.fish,
        "catchability_at_reference": 1.0 - np.exp(-lake.area_fished_ha / lake.area_ha),
        "temperature_effect": lake.cooling_factor,
        "mean_weight": mean_weight,
        "biomass_before": lake.fish * mean_weight / lake.area_ha,
        "biomass_after": left * mean_weight / lake.area_ha,
        "marked_at_start": marks_at_start,
    }
    rows["truth"] = [
        {"lake": lake.name, "season": "2025", "quantity": name, "value": f"{value:.6g}"}
        for name, value in truth.items()
    ]
    return rows


CAMPAIGN = """\
# An invented campaign: lakes, numbers and fish are made up.
title = "Brackenfold watershed, carp removal 2025 (invented)"
species = "common carp"
threshold_kg_per_ha = 100
currency = "EUR"
cost_per_pull = 180
cost_per_field_day = 950
"""


def main(folder: Path) -> None:
    """Write the campaign into `folder`/watershed and the truth beside it."""
    rng = np.random.default_rng(SEED)
    records = folder / "watershed"
    records.mkdir(parents=True, exist_ok=True)
    (records / "campaign.toml").write_text(CAMPAIGN, encoding="utf-8")
    tables: dict[str, list[dict[str, object]]] = {
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
        with path.open("w", newline="", encoding="utf-8") as file:
            writer = csv.DictWriter(file, fieldnames=list(rows[0]), lineterminator="\n")
            writer.writeheader()
            writer.writerows(rows)


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent)
