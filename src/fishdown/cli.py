"""The command line: reads arguments, calls the rooms, prints. Nothing heavy is imported here."""

from __future__ import annotations

import argparse
import sys
from contextlib import nullcontext
from typing import TYPE_CHECKING

from fishdown.errors import FishdownError, ModelFileError, PlanError
from fishdown.records.problems import RecordsError
from fishdown.terminal.arguments import parser_of_arguments
from fishdown.terminal.exit_codes import (
    DONE,
    GATE_FAILED,
    NOBODY_READS,
    PROBLEMS,
    STOPPED,
    UNPRINTED,
    USAGE,
)

if TYPE_CHECKING:
    from collections.abc import Sequence
    from contextlib import AbstractContextManager

    from fishdown.terminal.output import Channel

# What these print goes to other programs.
QUICK = ("new", "check", "priors", "formulas", "completion")


def command_line() -> None:
    """Run the command that the process was started for, and end the process."""
    code = main(shows_life=True)
    if code in STOPPED:
        from fishdown.terminal.stopping import leave

        leave(code)
    sys.exit(code)


def main(arguments: Sequence[str] | None = None, *, shows_life: bool = False) -> int:
    """Run one command; returns its exit code.

    Parameters
    ----------
    arguments : sequence of str, optional
        By default those of the command line.
    shows_life : bool
        Print a line wherever a long command says nothing for long.
    """
    from fishdown.terminal.output import lasting_output

    parser = parser_of_arguments()
    with lasting_output() as output:
        try:
            options = parser.parse_args(arguments)
        except SystemExit:
            # Help was printed, or what is wrong.
            output.flush()
            if output.failure is None:
                raise
            return _unprinted(output.failure, None)
        if options.command is None:
            parser.print_help()
            return USAGE
        with _living(output) if shows_life and options.command not in QUICK else nullcontext():
            code = _run(options)
        output.flush()
        if output.failure is not None and code in (DONE, GATE_FAILED):
            return _unprinted(output.failure, options.saved)
    return code


def _living(output: Channel) -> AbstractContextManager[None]:
    from fishdown.terminal.progress import signs_of_life

    return signs_of_life(output)


def _run(options: argparse.Namespace) -> int:
    from fishdown.terminal.stopping import stoppable

    with stoppable(lambda: _when_stopped(options)) as stop:
        try:
            from fishdown.terminal.caches import have_a_place

            have_a_place()
            # Imports take seconds, in which somebody may think better of it.
            from fishdown.terminal import commands

            code: int = getattr(commands, options.command.replace("-", "_"))(options)
        except RecordsError as error:
            print(error, file=sys.stderr)
            return PROBLEMS
        except (ModelFileError, PlanError) as error:
            print(f"fishdown: {error}", file=sys.stderr)
            return USAGE
        except FishdownError as error:
            print(f"fishdown: {error}", file=sys.stderr)
            return PROBLEMS
        except OSError as error:
            from fishdown.atomic_write import remedy

            place = error.filename or "a file that it needs"
            print(
                f"fishdown: cannot use {place} ({error.strerror or error}); {remedy(error)}",
                file=sys.stderr,
            )
            return USAGE
        except KeyboardInterrupt:
            stop.tell()
            return stop.code
        return code


def _when_stopped(options: argparse.Namespace) -> str:
    if options.saved is not None:
        return f"fishdown: stopped; the results are in {options.saved}"
    if options.goes_on:
        return (
            "fishdown: stopped; completed work is kept, and the same command continues from there"
        )
    return "fishdown: stopped; nothing was written"


def _unprinted(failure: OSError, saved: str | None) -> int:
    """Say where the results are if what was to be printed did not arrive."""
    if isinstance(failure, BrokenPipeError):
        return NOBODY_READS
    where = "" if saved is None else f"; the results are in {saved}"
    print(
        f"fishdown: the output could not be printed ({failure.strerror or failure}){where}",
        file=sys.stderr,
    )
    return UNPRINTED


if __name__ == "__main__":
    command_line()
