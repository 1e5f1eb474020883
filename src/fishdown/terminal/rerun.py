"""A fit made again, in the terminal."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from fishdown.errors import FitError
from fishdown.terminal.fitting import print_saved, save, see_that_it_can_be_written
from fishdown.units import shown_in
from fishdown.words import counted

if TYPE_CHECKING:
    import argparse

    from rich.console import Console


def print_rerun(console: Console, options: argparse.Namespace) -> bool:
    """Make a fit again and print how it came out; returns whether it came out alike."""
    from fishdown.api.fit import load
    from fishdown.api.rerun import rerun
    from fishdown.campaign import read
    from fishdown.posterior.reweighting import sampled_with
    from fishdown.terminal.progress import stages

    with stages(console) as stage:
        stage("Reading the fit")
        fitted = load(options.results)
        campaign = None if options.folder is None else read(options.folder)
    if options.out is not None:
        out = Path(options.out)
        if out.resolve() == Path(options.results).resolve():
            raise FitError(f"{out} holds the fit itself, which stays; name another folder (--out)")
        see_that_it_can_be_written(out)
    how = sampled_with(fitted)
    records = "the records that the fit holds" if campaign is None else str(options.folder)
    console.print(
        f"Model {fitted.spec.name}, on {records}: {how.sampler}, seed {how.seed}, "
        f"{counted(how.chains, 'chain')} of {how.draws:,} draws after {how.tune:,} of tuning."
    )
    with stages(console) as stage:
        found = rerun(
            fitted,
            campaign,
            on_progress=stage.draws,
            on_retry=lambda why: console.print(f"Sampling again, with more care: {why}"),
            on_stage=stage,
        )
        removed = [] if options.out is None else save(options, found.fit, stage)
    with shown_in(found.fit.units):
        for sentence in found.repetition.sentences():
            console.print(sentence)
    if options.out is not None:
        print_saved(console, options, found.fit, removed)
    else:
        console.print("Nothing was written; --out DIR2 keeps the fit that was made again.")
    return found.repetition.outcome != "different"
