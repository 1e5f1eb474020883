"""The command line: reads arguments, calls the rooms, prints. Nothing heavy is imported here."""

from __future__ import annotations

import argparse
import sys
from typing import TYPE_CHECKING

from fishdown import __version__
from fishdown.errors import FishdownError, ModelFileError, RecordsError

if TYPE_CHECKING:
    from collections.abc import Sequence

DONE, PROBLEMS, USAGE, GATE_FAILED = 0, 1, 2, 3

EPILOG = """\
exit codes: 0 done, 1 the records have problems, 2 wrong usage,
            3 fitted, but the quality gate failed

Removal, marking and electrofishing need permits and trained crews; local codes
and licensed practice come before anything printed here.
"""


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command; returns its exit code.

    Parameters
    ----------
    arguments : sequence of str, optional
        By default those of the command line.
    """
    parser = _parser()
    options = parser.parse_args(arguments)
    if options.command is None:
        parser.print_help()
        return USAGE
    from fishdown.terminal import commands

    try:
        code: int = getattr(commands, options.command)(options)
    except RecordsError as error:
        print(error, file=sys.stderr)
        return PROBLEMS
    except ModelFileError as error:
        print(f"fishdown: {error}", file=sys.stderr)
        return USAGE
    except FishdownError as error:
        print(f"fishdown: {error}", file=sys.stderr)
        return PROBLEMS
    except KeyboardInterrupt:
        print("fishdown: stopped; nothing was written", file=sys.stderr)
        return USAGE
    return code


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="fishdown",
        description="How many fish were there, what did the nets take, and is the lake below its "
        "threshold?",
        epilog=EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--version", action="version", version=f"fishdown {__version__}")
    commands = parser.add_subparsers(dest="command", metavar="COMMAND", title="commands")

    check = commands.add_parser(
        "check", help="list every problem of the records, and what they can tell"
    )
    _folder(check)

    formulas = commands.add_parser(
        "formulas", help="the hand formulas of the trade beside each other"
    )
    _folder(formulas)

    priors = commands.add_parser("priors", help="a model's priors, and what they imply")
    _folder(priors)
    _model(priors)

    fit = commands.add_parser("fit", help="fit a model and state the verdicts")
    _folder(fit)
    fit.add_argument("--out", required=True, metavar="DIR", help="folder for the results")
    _model(fit)
    _sampling(fit)

    demo = commands.add_parser("demo", help="the main job on an invented watershed")
    demo.add_argument("--out", required=True, metavar="DIR", help="folder for records and results")
    _sampling(demo)
    return parser


def _folder(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "folder", metavar="FOLDER", help="campaign folder with campaign.toml, or .xlsx workbook"
    )


def _model(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--model",
        metavar="M",
        help="a shipped model's name or the path of a model file; by default the campaign's own, "
        "or one chosen by the records",
    )


def _sampling(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--draws", type=_count, default=1000, help="kept draws a chain (1000)")
    parser.add_argument("--tune", type=_count, default=1000, help="tuning draws a chain (1000)")
    parser.add_argument("--chains", type=_count, default=4, help="chains (4)")
    parser.add_argument("--cores", type=_count, help="chains at once (as many as there are cores)")
    parser.add_argument("--seed", type=int, default=20, help="seed of the random numbers (20)")
    parser.add_argument(
        "--sampler", choices=("nutpie", "pymc"), default="nutpie", help="engine (nutpie)"
    )
    parser.add_argument(
        "--despite-gate",
        action="store_true",
        help="print statements under a warning where the quality gate failed",
    )


def _count(text: str) -> int:
    value = int(text)
    if value < 1:
        raise argparse.ArgumentTypeError(f"{text} is not a whole number above 0")
    return value


if __name__ == "__main__":
    sys.exit(main())
