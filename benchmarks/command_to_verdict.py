"""How long `fishdown fit` takes, from the command to the verdict, on one lake of the demo.

    python benchmarks/command_to_verdict.py --repeats 3

In turn: the first fit on a computer (nothing compiled is on disk), the same fit again, and a fit
with the last day's pulls left out, as it was the evening before. Each is a process of its own;
seconds are medians, with the processor's beside them, since other work may share the machine.
RESULTS.md has what was found.
"""

from __future__ import annotations

import argparse
import csv
import os
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from fishdown.demo import demo_folder

LAKE = "Ottermoss Lake"
TABLES = ("lakes", "marked", "pulls", "measured", "bycatch")


def one_lake(folder: Path, *, last_day: bool) -> Path:
    """Write the records of one lake of the demo, its last day's pulls left out or not."""
    source = demo_folder() / "watershed"
    folder.mkdir()
    days: set[str] = set()
    for name in TABLES:
        with (source / f"{name}.csv").open(encoding="utf-8", newline="") as file:
            rows = [row for row in csv.DictReader(file) if row["lake"] == LAKE]
        if name == "pulls":
            days = {row["date"] for row in rows}
        if days and not last_day:
            rows = [row for row in rows if row["date"] < max(days)]
        with (folder / f"{name}.csv").open("w", encoding="utf-8", newline="") as file:
            table = csv.DictWriter(file, list(rows[0]))
            table.writeheader()
            table.writerows(rows)
    settings = (source / "campaign.toml").read_text(encoding="utf-8")
    (folder / "campaign.toml").write_text(settings, encoding="utf-8")
    return folder


def fit(folder: Path, out: Path, compiled: Path) -> tuple[float, float]:
    """Fit in a process of its own; return seconds, and those of the processor."""
    command = [sys.executable, "-m", "fishdown.cli", "fit", str(folder), "--out", str(out)]
    kept = {"PYTENSOR_FLAGS": f"base_compiledir={compiled}", "NUMBA_CACHE_DIR": str(compiled)}
    before, began = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
    subprocess.run(command, env={**os.environ, **kept}, check=True, stdout=subprocess.DEVNULL)
    seconds = time.perf_counter() - began
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return seconds, after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawTextHelpFormatter
    )
    parser.add_argument("--repeats", type=int, default=3)
    options = parser.parse_args()
    found: dict[str, list[tuple[float, float]]] = {}
    with tempfile.TemporaryDirectory() as name:
        place = Path(name)
        whole = one_lake(place / "whole", last_day=True)
        before = one_lake(place / "before", last_day=False)
        for repeat in range(options.repeats):
            for what, folder in (("first", whole), ("again", whole), ("other pulls", before)):
                took = fit(folder, place / "out", place / f"compiled_{repeat}")
                found.setdefault(what, []).append(took)
    print("| fit | s | processor, s |")
    print("| --- | ---: | ---: |")
    for what, took in found.items():
        seconds, processor = (statistics.median(one) for one in zip(*took, strict=True))
        print(f"| {what} | {seconds:.1f} | {processor:.1f} |")


if __name__ == "__main__":
    main()
