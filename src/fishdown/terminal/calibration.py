"""The command that calibrates a model by simulation."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING

from fishdown.atomic_write import all_or_none
from fishdown.errors import FitError
from fishdown.terminal.progress import stages
from fishdown.terminal.render import in_terminal
from fishdown.words import counted

if TYPE_CHECKING:
    import argparse

    from rich.console import Console

    from fishdown.calibration.study import Calibration

KEPT = "calibration.jsonl"
TABLE = "calibration.csv"
FIGURE = "calibration.png"
FEW_EFFECTIVE = 100


def calibrate(options: argparse.Namespace, console: Console) -> Calibration:
    """Run the study, print its table and write its files; what is kept there already counts.

    Parameters
    ----------
    options : argparse.Namespace
        Of `fishdown calibrate`.
    console : Console
    """
    from fishdown.calibration.design import fed
    from fishdown.calibration.study import calibrate as run
    from fishdown.display.studies import calibration_table
    from fishdown.models.spec import read_model
    from fishdown.posterior.sampling import SamplerSettings
    from fishdown.spreadsheet import write_csv

    out = Path(options.out)
    spec = read_model(options.model)
    _, left_out = fed(spec)
    settings = SamplerSettings(
        draws=options.draws, tune=options.tune, chains=options.chains, seed=options.seed
    )
    cores = options.cores or os.cpu_count() or 1
    console.print(f"Model {spec.name}: {spec.title}")
    if left_out:
        console.print(
            f"Left out, because simulated campaigns contain no data for it: {', '.join(left_out)}."
        )
    console.print(
        f"{counted(options.simulations, 'simulated campaign')} from its own priors. "
        f"Each is saved in {out / KEPT} when done; an interrupted run continues with the same "
        "command."
    )
    with stages(console) as stage:
        stage("Simulating campaigns")
        found = run(
            spec,
            simulations=options.simulations,
            settings=settings,
            keep_in=out / KEPT,
            cores=cores,
            scheduler=options.scheduler,
            on_progress=lambda done, total: stage.steps(done, total, "simulations"),
        )
    with all_or_none(out, refusal=FitError) as staged:
        write_csv(found.table(), staged / TABLE)
        found.figure().savefig(staged / FIGURE, dpi=120)
    options.saved = out
    console.print(in_terminal(calibration_table(found)))
    console.print(_verdict(found))
    console.print(f"\nWritten to {out}: {KEPT}, {TABLE}, {FIGURE}.")
    return found


def _verdict(found: Calibration) -> str:
    rows = [row for row in found.rows.values() if "places" in row]
    diverged = sum(row["divergences"] > 0 for row in rows)
    few = sum(row["ess"] < FEW_EFFECTIVE for row in rows)
    uneven = [name for name, even in found.spread.items() if not even.even]
    match found.outcome:
        case "calibrated":
            said = "calibrated: the ranks of every quantity are uniform within chance"
        case "cannot tell":
            said = (
                "TOO FEW TO TELL: no ranks depart from uniform, but most faults would not show; "
                f"run at least {found.simulations_needed} (--simulations)"
            )
        case _:
            said = f"NOT CALIBRATED: {', '.join(uneven) or 'some simulations failed'}"
    return (
        f"{found.spec.name}, {counted(found.simulations, 'simulation')}: {said}. "
        f"{found.detectable.sentence()} "
        f"{counted(found.failed, 'simulation')} failed, {diverged} had divergences, "
        f"{few} fewer than {FEW_EFFECTIVE} effective draws (a fit would have sampled again)."
    )
