"""The commands, step by step; each returns its exit code."""

from __future__ import annotations

import os
import shutil
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from fishdown.errors import FitError
from fishdown.terminal.console import plain_console
from fishdown.terminal.exit_codes import DONE, GATE_FAILED, USAGE
from fishdown.terminal.fitting import (
    fit_and_print,
    print_saved,
    sampler_settings,
    sampling_asked,
    save,
    see_that_it_can_be_written,
)
from fishdown.terminal.on_records import check as check
from fishdown.terminal.on_records import formulas as formulas
from fishdown.terminal.on_records import new as new
from fishdown.terminal.on_records import priors as priors
from fishdown.terminal.progress import stages
from fishdown.units import US_UNITS, shown_in
from fishdown.words import counted

if TYPE_CHECKING:
    import argparse

    from rich.console import Console

    from fishdown.api.fit import Fit


def fit(options: argparse.Namespace) -> int:
    """Fit, judge, save, state."""
    code = fit_and_print(options, Path(options.folder), Path(options.out))[1]
    plain_console().print(f"To write the report page: fishdown report {options.out}")
    return code


def update(options: argparse.Namespace) -> int:
    """Add new pulls to a fit; print and save as a fit does."""
    from fishdown.api.fit import load
    from fishdown.campaign import read
    from fishdown.terminal.fitted import print_fit
    from fishdown.terminal.update import take_up

    console = plain_console()
    with stages(console) as stage:
        stage("Reading the fit and the records")
        fitted = load(options.results)
        campaign = read(options.folder)
    see_that_it_can_be_written(Path(options.out))
    for warning in campaign.warnings:
        console.print(str(warning))
    found = take_up(console, fitted, campaign, sampling_asked(options))
    with stages(console) as stage:
        removed = save(options, found, stage)
    with shown_in(found.units):
        print_fit(console, found, despite_gate=options.despite_gate)
    print_saved(console, options, found, removed)
    console.print(f"To write the report page: fishdown report {options.out}")
    return DONE if found.passed else GATE_FAILED


def rerun(options: argparse.Namespace) -> int:
    """Make a fit again, and say whether it came out alike."""
    from fishdown.terminal.rerun import print_rerun

    return DONE if print_rerun(plain_console(), options) else GATE_FAILED


def shapes(options: argparse.Namespace) -> int:
    """Fit each temperature–catchability curve, and state which predicts best."""
    from fishdown.campaign import read
    from fishdown.checks.shapes import SHAPES, compare_shapes
    from fishdown.display.studies import shapes_table
    from fishdown.posterior.choice import choose_model
    from fishdown.terminal.render import in_terminal

    console = plain_console()
    campaign = read(options.folder)
    spec = choose_model(campaign, options.model).spec
    console.print(f"Model {spec.name} with each temperature–catchability curve in turn")
    with stages(console) as stage:
        found = compare_shapes(
            campaign,
            spec,
            leave_out=options.leave_out,
            settings=sampler_settings(options),
            on_shape=lambda shape: stage(
                f"Fitting the curve {shape}, {SHAPES.index(shape) + 1} of {len(SHAPES)}"
            ),
            on_progress=stage.draws,
            on_retry=lambda why: console.print(f"Sampling again, with more care: {why}"),
        )
    with shown_in(campaign.settings.units):
        console.print(in_terminal(shapes_table(found)))
        console.print(found.sentence(despite_gate=options.despite_gate))
    return GATE_FAILED if found.failure else DONE


def calibrate(options: argparse.Namespace) -> int:
    """Calibrate a model by simulated campaigns."""
    from fishdown.terminal.calibration import calibrate as run

    try:
        found = run(options, plain_console())
    except FitError as error:
        # There are no records that could be wrong: it is how the study was asked for.
        print(f"fishdown: {error}", file=sys.stderr)
        return USAGE
    return DONE if found.calibrated else GATE_FAILED


def demo(options: argparse.Namespace) -> int:
    """Go from the invented records to the verdicts, and compare them with the truth."""
    import pandas as pd

    from fishdown.atomic_write import all_or_none
    from fishdown.demo import demo_folder
    from fishdown.display.fitted import truth_table
    from fishdown.terminal.render import in_terminal

    out = Path(options.out)
    see_that_it_can_be_written(out)
    console = plain_console()
    console.print("Step 1: the records", style="bold")
    options.folder = demo_folder() / "watershed"
    check(options)
    console.print("\nStep 2: the fit", style="bold")
    options.model = None
    fitted, code = fit_and_print(options, options.folder, out)
    with all_or_none(out, into="records") as staged:
        for path in options.folder.iterdir():
            shutil.copy(path, staged)
    console.print(f"The records that were fitted are in {out / 'records'}.")
    truth = pd.read_csv(demo_folder() / "truth.csv", dtype={"season": str})
    console.print("\nStep 3: comparison with the truth", style="bold")
    console.print("The records are invented, so the truth is known.")
    estimates = fitted.estimates(despite_gate=options.despite_gate)
    console.print(in_terminal(truth_table(estimates, truth)))
    console.print("\nStep 4: the page", style="bold")
    _write_page(console, fitted, out, despite_gate=options.despite_gate)
    return code


def figures(options: argparse.Namespace) -> int:
    """Draw the figures of a fit into its folder."""
    from fishdown.api.fit import load
    from fishdown.figures.files import write_figures

    fitted = load(options.results)
    written, left_out = write_figures(
        fitted,
        options.results,
        only=options.only,
        file_format=options.format,
        palette=options.palette,
        despite_gate=options.despite_gate,
    )
    options.saved = options.results
    console = plain_console()
    for name, reason in left_out.items():
        console.print(f"  left out: {name} ({reason})")
    console.print(f"Written to {written[0].parent}: {', '.join(path.name for path in written)}.")
    return _judged(console, fitted, despite_gate=options.despite_gate)


def report(options: argparse.Namespace) -> int:
    """Write the page about a fit into its folder."""
    from fishdown.api.fit import load

    console = plain_console()
    with stages(console) as stage:
        stage("Reading the fit")
        fitted = load(options.results)
    _write_page(console, fitted, Path(options.results), despite_gate=options.despite_gate)
    options.saved = options.results
    return _judged(console, fitted, despite_gate=options.despite_gate)


def workbook(options: argparse.Namespace) -> int:
    """Write the tables of a fit as one workbook into its folder."""
    from fishdown.api.fit import load

    fitted = load(options.results)
    path = fitted.workbook(options.results, despite_gate=options.despite_gate)
    options.saved = options.results
    console = plain_console()
    console.print(f"Written: {path}. Open it in a spreadsheet program.")
    return _judged(console, fitted, despite_gate=options.despite_gate)


def ahead(options: argparse.Namespace) -> int:
    """Predict catch, cost and biomass left for the next pulls, and write them beside the fit."""
    from fishdown.terminal.ahead import print_ahead

    return DONE if print_ahead(plain_console(), options) else GATE_FAILED


def budget(options: argparse.Namespace) -> int:
    """Share out field days or money among the lakes of a fit, and write that beside it."""
    from fishdown.terminal.budget import print_budget

    return DONE if print_budget(plain_console(), options) else GATE_FAILED


def lift_time(options: argparse.Namespace) -> int:
    """Find the best time of the night to lift the net, from antenna detections."""
    from fishdown.terminal.lift_time import print_lift_time

    if options.out is not None:
        see_that_it_can_be_written(Path(options.out))
    return DONE if print_lift_time(plain_console(), options) else GATE_FAILED


def bycatch(options: argparse.Namespace) -> int:
    """Estimate the bycatch from the records, and compare it with the limits of a permit."""
    from fishdown.terminal.bycatch import print_bycatch

    for folder in (options.out, options.darwin_core):
        if folder is not None:
            see_that_it_can_be_written(Path(folder))
    return DONE if print_bycatch(plain_console(), options) else GATE_FAILED


def worth(options: argparse.Namespace) -> int:
    """Predict what the next measurement would tell, and write it beside the fit."""
    from fishdown.api.fit import load
    from fishdown.terminal.worth import TABLE, print_worth, write_worth

    fitted = load(options.results)
    frame = fitted.worth(
        pen=options.pen,
        double_marks=options.double_marks,
        antenna=options.antenna,
        second_gear=options.second_gear,
        weights=options.weights,
        pulls=options.pulls,
        seed=options.seed,
        despite_gate=options.despite_gate,
    )
    console = plain_console()
    write_worth(frame, options.results)
    options.saved = options.results
    print_worth(console, frame)
    console.print(f"Written to {options.results}: {TABLE}.")
    return _judged(console, fitted, despite_gate=options.despite_gate)


def years(options: argparse.Namespace) -> int:
    """Project the years ahead from a fit, and write the projection into its folder."""
    from fishdown.api.fit import load
    from fishdown.terminal.years import print_years, write_years

    console = plain_console()
    with stages(console) as stage:
        stage("Reading the fit")
        fitted = load(options.results)
        stage("Projecting the years ahead")
        ahead = fitted.years(
            options.years,
            remove_fish=options.remove_fish,
            remove_kg=_removed_kg(options),
            remove_share=options.remove_share,
            young=options.young,
            survival=options.survival,
            recruits=options.recruits,
            recruitment=options.recruitment,
            compensation=options.compensation,
            check_every=options.check_every,
            check_error=options.check_error,
            most_removed=options.most_removed,
            seed=options.seed,
            despite_gate=options.despite_gate,
        )
        stage("Writing the table and the figure")
        written = write_years(ahead, options.results)
    options.saved = options.results
    print_years(console, ahead)
    console.print(f"Written to {options.results}: {', '.join(written)}.")
    return _judged(console, fitted, despite_gate=options.despite_gate)


def _removed_kg(options: argparse.Namespace) -> float | None:
    if options.remove_lb is not None:
        return float(US_UNITS["kg"].to_metric(options.remove_lb))
    kilograms: float | None = options.remove_kg
    return kilograms


_WORLDS = {
    "messy": 'Things go wrong in the simulated lakes (with worlds = "plain" nothing does).',
    "plain": "Nothing goes wrong in the simulated lakes.",
}


def plan(options: argparse.Namespace) -> int:
    """Simulate the designs of a plan file and name the cheapest that is enough."""
    from fishdown.api.plan import plan
    from fishdown.decisions.plan import LOG, TABLE
    from fishdown.decisions.plan_file import read_plan
    from fishdown.display.studies import plan_table
    from fishdown.terminal.plan import write_plan_figure
    from fishdown.terminal.render import in_terminal

    console = plain_console()
    asked = read_plan(options.file)
    console.print(
        f"{counted(len(asked.candidates), 'design')}, {asked.simulations:,} campaigns each and up "
        f"to {asked.most_simulations:,} of those that these leave open; an interrupted run "
        f"continues with the same command. {_WORLDS[asked.worlds]} Compiling ..."
    )
    with stages(console) as stage:
        stage("Simulating campaigns")
        planned = plan(
            asked,
            options.out,
            cores=options.cores or os.cpu_count() or 1,
            scheduler=options.scheduler,
            on_progress=lambda done, total: stage.steps(done, total, "campaigns"),
        )
        stage("Drawing the figure")
        drawn = write_plan_figure(planned, options.out)
    options.saved = options.out
    console.print(in_terminal(plan_table(planned)))
    console.print(planned.sentence())
    console.print(f"Written to {options.out}: {', '.join((TABLE, LOG, *drawn))}.")
    return DONE


def completion(options: argparse.Namespace) -> int:
    """Print the script by which a shell completes commands."""
    from fishdown.terminal.arguments import parser_of_arguments
    from fishdown.terminal.completion import script

    print(script(parser_of_arguments(), options.shell), end="")
    return DONE


def _write_page(console: Console, fitted: Fit, folder: Path, *, despite_gate: bool) -> None:
    with stages(console) as stage:
        stage("Checking the fit against the records")
        fitted.checks()
        stage("Drawing the figures and writing the page")
        path = fitted.report(folder, despite_gate=despite_gate)
    console.print(f"Written: {path} ({path.stat().st_size / 1e6:.1f} MB). Open it in a browser.")


def _judged(console: Console, fitted: Fit, *, despite_gate: bool) -> int:
    """Say whether statements were withheld, and return the exit code."""
    if fitted.passed:
        return DONE
    shown = "shown under a warning" if despite_gate else "withheld"
    console.print(f"A gate failed: statements on at least one season are {shown}.")
    return GATE_FAILED
