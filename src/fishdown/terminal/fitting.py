"""Fit a campaign at the command line: say what is done, save the fit, print it."""

from __future__ import annotations

import errno
import os
from typing import TYPE_CHECKING, Any

from fishdown.terminal.console import plain_console
from fishdown.terminal.exit_codes import DONE, GATE_FAILED
from fishdown.units import shown_in

if TYPE_CHECKING:
    import argparse
    from pathlib import Path

    from rich.console import Console

    from fishdown.api.fit import Fit
    from fishdown.posterior.sampling import SamplerSettings
    from fishdown.terminal.progress import Stages


def fit_and_print(options: argparse.Namespace, folder: Path, out: Path) -> tuple[Fit, int]:
    """Fit the records of a folder, save the fit and print it; returns it with the exit code."""
    from fishdown.campaign import read
    from fishdown.posterior.choice import choose_model
    from fishdown.terminal.fitted import model_line
    from fishdown.terminal.progress import stages

    console = plain_console()
    with stages(console) as stage:
        stage("Reading the records")
        campaign = read(folder)
        choice = choose_model(campaign, options.model)
    see_that_it_can_be_written(out)
    for warning in campaign.warnings:
        console.print(str(warning))
    console.print(model_line(choice))
    console.print("Compiling takes seconds, up to a minute the first time on this computer.")
    with stages(console) as stage:
        # Which takes a second or two.
        stage("Loading the libraries")
        from fishdown.api.fitting import fit as fit_campaign
        from fishdown.terminal.fitted import print_fit

        fitted = fit_campaign(
            campaign,
            options.model,
            settings=sampler_settings(options),
            compare_lakes=options.compare_lakes,
            on_progress=stage.draws,
            on_retry=lambda why: console.print(f"Sampling again, with more care: {why}"),
            on_stage=stage,
        )
        # Before anything is printed: whoever reads may stop reading.
        removed = save(options, fitted, stage)
    with shown_in(fitted.units):
        print_fit(console, fitted, despite_gate=options.despite_gate)
    print_saved(console, options, fitted, removed)
    return fitted, DONE if fitted.passed else GATE_FAILED


def save(options: argparse.Namespace, fitted: Fit, stage: Stages) -> list[str]:
    """Save a fit; returns what went because it had been made from the one before."""
    from fishdown.api.files import outlived

    stage("Checking the fit against the records")
    fitted.checks()
    stage("Writing the results")
    removed = outlived(options.out)
    fitted.save(options.out, despite_gate=options.despite_gate)
    options.saved = options.out
    return removed


def print_saved(
    console: Console, options: argparse.Namespace, fitted: Fit, removed: list[str]
) -> None:
    """Say which files were written, and which went."""
    from fishdown.api.files import files_of

    console.print(f"\nWritten to {options.out}: {', '.join(files_of(fitted))}.")
    if removed:
        console.print(f"Removed, because they belong to the previous fit: {', '.join(removed)}.")


def sampler_settings(options: argparse.Namespace) -> SamplerSettings:
    """Return the settings that the command line asks for."""
    from fishdown.posterior.sampling import SamplerSettings

    return SamplerSettings.of(sampling_asked(options))


def sampling_asked(options: argparse.Namespace) -> dict[str, Any]:
    """Return what the command line says about sampling."""
    return {
        name: getattr(options, name)
        for name in ("draws", "tune", "chains", "cores", "seed", "sampler")
        if getattr(options, name) is not None
    }


def see_that_it_can_be_written(folder: Path) -> None:
    """Refuse a folder for the results before the long work, not after it; make nothing yet."""
    there = next(one for one in (folder.absolute(), *folder.absolute().parents) if one.exists())
    number = 0 if os.access(there, os.W_OK | os.X_OK) else errno.EACCES
    if not there.is_dir():
        number = errno.ENOTDIR
    if number:
        raise OSError(number, os.strerror(number), str(there))
