"""How long it takes to read, check and sort half a million antenna reads into visits.

    python benchmarks/detections_speed.py [reads]

Prints seconds. The campaign is generated in a temporary folder and removed again.
"""

from __future__ import annotations

import sys
import tempfile
import time
from pathlib import Path

import numpy as np

from fishdown.records import read_records
from fishdown.records.visits import heard

READS, TAGS, NIGHTS, SEED = 500_000, 200, 60, 1


def write_campaign(folder: Path, reads: int) -> None:
    """Write a campaign of one lake with so many reads of 200 tags in 60 nights, by two antennas."""
    rng = np.random.default_rng(SEED)
    (folder / "campaign.toml").write_text(
        'title = "Many reads"\nspecies = "common carp"\ntime_zone = "Europe/Vienna"\n'
    )
    (folder / "lakes.csv").write_text("lake,area_ha\nAlder,20\n")
    pulls = [f"2025-07-{day:02},Alder,N{1 + day % 2},{50 - day},1\n" for day in range(1, 20)]
    (folder / "pulls.csv").write_text("date,lake,net,caught,recaptured\n" + "".join(pulls))
    (folder / "marked.csv").write_text(
        f"date,lake,batch,mark,released\n2025-05-01,Alder,A1,pit_tag,{TAGS}\n"
    )
    codes = [f"3D9.1BF{number:07}" for number in range(TAGS)]
    (folder / "tags.csv").write_text(
        "lake,batch,tag_id\n" + "".join(f"Alder,A1,{code}\n" for code in codes)
    )
    (folder / "clock_checks.csv").write_text(
        "time,lake,net,fast_s\n2025-06-01T12:00:00,Alder,,0\n2025-08-01T12:00:00,Alder,,90\n"
    )
    night = rng.integers(0, NIGHTS, reads)
    of_night = rng.normal(23.5 * 3600, 2 * 3600, reads)
    stamps = np.sort(night * 86_400_000 + np.round(of_night * 1000).astype(np.int64))
    shown = np.datetime_as_string(np.datetime64("2025-06-01T00:00:00.000") + stamps)
    with (folder / "detections.csv").open("w") as file:
        file.write("time,lake,net,tag_id\n")
        for stamp, tag, net in zip(
            shown, rng.integers(0, TAGS, reads), rng.integers(1, 3, reads), strict=True
        ):
            # A read in a hundred is a wrong code.
            code = codes[tag] if rng.random() > 0.01 else f"{rng.integers(2**40):X}"
            file.write(f"{stamp},Alder,N{net},{code}\n")


def main() -> None:
    """Generate, read, sort into visits, and print the times."""
    reads = int(sys.argv[1]) if len(sys.argv) > 1 else READS
    with tempfile.TemporaryDirectory() as place:
        write_campaign(Path(place), reads)
        begun = time.perf_counter()
        records = read_records(place)
        checked = time.perf_counter()
        found = heard(records)
        done = time.perf_counter()
    print(f"{reads:,} reads, {len(found.visits):,} visits, {found.ghosts:,} ghost reads")
    print(f"read and checked {checked - begun:.1f} s, visits {done - checked:.1f} s")


if __name__ == "__main__":
    main()
