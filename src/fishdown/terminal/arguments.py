"""The arguments of every command. Nothing heavy is imported here."""

from __future__ import annotations

import argparse

from fishdown.figures import NAMES
from fishdown.terminal.argument_values import (
    a_day,
    a_month,
    a_number,
    a_share,
    at_least,
    some_minutes,
)
from fishdown.terminal.completion import SHELLS
from fishdown.terminal.years_arguments import add_years
from fishdown.version import __version__

EPILOG = """\
exit codes: 0 done, 1 the records have problems, 2 wrong usage,
            3 fitted, but the quality gate failed,
            4 done, but the output could not be printed;
            130 stopped by Ctrl-C, 143 by another process,
            141 done, but the output was closed before its end

Removal, marking and electrofishing need permits and trained crews; local codes
and licensed practice prevail over anything printed here.
"""


def parser_of_arguments() -> argparse.ArgumentParser:
    """Return the parser of the whole command line."""
    parser = argparse.ArgumentParser(
        prog="fishdown",
        description="How many fish were there, what did the nets take, "
        "and is the lake below its\nthreshold?",
        epilog=EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--version", action="version", version=f"fishdown {__version__}")
    # Where results were saved to, as soon as they were; whether a stopped command goes on.
    parser.set_defaults(saved=None, goes_on=False)
    commands = parser.add_subparsers(dest="command", metavar="COMMAND", title="commands")

    new = commands.add_parser("new", help="write an empty campaign to fill in")
    new.add_argument(
        "path", metavar="FOLDER", help="folder for the campaign, or a workbook: NAME.xlsx"
    )
    new.add_argument(
        "--us", action="store_true", help="columns and results in acres, pounds, inches and °F"
    )

    check = commands.add_parser(
        "check", help="list every problem in the records, and what can be estimated from them"
    )
    _folder(check)

    formulas = commands.add_parser("formulas", help="classical estimators side by side")
    _folder(formulas)

    priors = commands.add_parser("priors", help="a model's priors, and what they imply")
    _folder(priors)
    _model(priors)

    fit = commands.add_parser("fit", help="fit a model and state the verdicts")
    _folder(fit)
    fit.add_argument("--out", required=True, metavar="DIR", help="folder for the results")
    _model(fit)
    _sampling(fit)
    _lakes(fit)

    update = commands.add_parser(
        "update",
        help="add new pulls to a fit",
        description="Reweights the draws of a fit for new pulls. If the new data are unlikely\n"
        "under the current fit, or if other records have changed, the model is fitted\n"
        "again; only then do the sampling options apply.",
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    update.add_argument("results", metavar="DIR", help="folder that fishdown fit wrote")
    _folder(update)
    update.add_argument(
        "--out", required=True, metavar="DIR2", help="folder for the results; may be DIR itself"
    )
    _sampling(update, as_the_fit=True)

    rerun = commands.add_parser(
        "rerun",
        help="make a fit again, and say whether it comes out alike",
        description="Makes a fit again with its model, priors, seed and settings of the sampler,\n"
        "and says whether it comes out alike: bit for bit, within Monte-Carlo error,\n"
        "or not, and what was not the same. The fit in DIR is not touched.",
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    rerun.add_argument("results", metavar="DIR", help="folder that fishdown fit wrote")
    rerun.add_argument(
        "folder",
        metavar="FOLDER",
        nargs="?",
        help="the records as they are now (those that the fit holds)",
    )
    rerun.add_argument("--out", metavar="DIR2", help="folder for the fit that is made again")
    _despite_gate(rerun)

    figures = commands.add_parser("figures", help="draw the figures of a fit")
    _results(figures)
    figures.add_argument(
        "--only",
        action="append",
        choices=NAMES,
        metavar="NAME",
        help=f"draw this one only (may be repeated): {', '.join(NAMES)}",
    )
    figures.add_argument(
        "--format", choices=("png", "svg", "pdf"), default="png", help="kind of file (png)"
    )
    figures.add_argument(
        "--palette", choices=("light", "print"), default="light", help="colours (light)"
    )

    report = commands.add_parser("report", help="write the report page of a fit (HTML)")
    _results(report)

    workbook = commands.add_parser("workbook", help="write the tables of a fit as one workbook")
    _results(workbook)

    _ahead(
        commands.add_parser("ahead", help="predict catch, cost and biomass left for the next pulls")
    )

    _budget(
        commands.add_parser("budget", help="which of several lakes get the nets for one budget")
    )

    shapes = commands.add_parser(
        "shapes", help="compare temperature–catchability curves by their predictions"
    )
    _folder(shapes)
    _model(shapes)
    shapes.add_argument(
        "--leave-out",
        choices=("day", "net"),
        default="day",
        help="what is left out in turn and predicted: all pulls of a day in a lake, "
        "or of a net (day)",
    )
    _sampling(shapes)

    lift = commands.add_parser(
        "lift-time", help="best time of the night to lift the net, from antenna detections"
    )
    _folder(lift)
    lift.add_argument("--out", metavar="DIR", help="folder for the table and the figure")
    lift.add_argument(
        "--pause",
        type=some_minutes,
        default=10.0,
        metavar="MINUTES",
        help="a tag not heard for so long has left the net (10)",
    )
    _seed(lift, 1)

    _bycatch(
        commands.add_parser("bycatch", help="bycatch by species, and how it stands to its limits")
    )

    worth = commands.add_parser(
        "worth", help="expected gain in precision of the biomass left by one more measurement"
    )
    _results(worth)
    for name, fish, what in (
        ("--pen", 50, "marked fish kept in a pen"),
        ("--double-marks", 30, "recaptured fish of two marks checked for both"),
        ("--antenna", 0, "tags that an antenna listens for; 0 for all that were released"),
        ("--second-gear", 300, "fish looked at in a run of another gear"),
        ("--weights", 60, "fish weighed"),
        ("--pulls", 5, "more pulls, every catch examined for marks"),
    ):
        worth.add_argument(
            name, type=at_least(0), default=fish, metavar="N", help=f"{what} ({fish})"
        )
    _seed(worth, 1)

    years = commands.add_parser("years", help="project the years ahead, with or without netting")
    _results(years)
    add_years(years)
    _seed(years, 20)

    plan = commands.add_parser(
        "plan", help="plan a season: how many fish to mark, how often to pull, which evidence pays"
    )
    plan.add_argument("file", metavar="FILE", help="plan file (.toml), see models/README.md")
    plan.add_argument(
        "--out",
        required=True,
        metavar="DIR",
        help="folder for the results; an interrupted run continues from there",
    )
    _crew(plan)
    plan.set_defaults(goes_on=True)

    calibrate = commands.add_parser(
        "calibrate", help="check a model's intervals with many simulated campaigns"
    )
    calibrate.add_argument(
        "model", metavar="MODEL", help="a shipped model's name or the path of a model file"
    )
    calibrate.add_argument("--out", required=True, metavar="DIR", help="folder for the results")
    _study(calibrate)
    calibrate.set_defaults(goes_on=True)

    demo = commands.add_parser("demo", help="the main job on an invented watershed")
    demo.add_argument("--out", required=True, metavar="DIR", help="folder for records and results")
    _sampling(demo)
    _lakes(demo)

    completion = commands.add_parser(
        "completion", help="print the script that lets the Tab key complete commands"
    )
    completion.add_argument("shell", choices=SHELLS, help="the shell that is to read it")
    return parser


def _bycatch(parser: argparse.ArgumentParser) -> None:
    _folder(parser)
    parser.add_argument(
        "--pulls",
        type=at_least(1),
        metavar="K",
        help="number of further pulls in each lake, for the probability that a limit is exceeded",
    )
    parser.add_argument(
        "--month",
        type=a_month,
        metavar="M",
        help="month of these pulls, 1 to 12 (that of the last pull of each lake)",
    )
    parser.add_argument("--out", metavar="DIR", help="folder for the tables")
    parser.add_argument(
        "--darwin-core",
        metavar="DIR",
        help="folder for all catches as Darwin Core: event.csv, occurrence.csv, meta.xml",
    )
    _seed(parser, 1)


def _folder(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "folder", metavar="FOLDER", help="campaign folder with campaign.toml, or .xlsx workbook"
    )


def _results(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("results", metavar="DIR", help="folder that fishdown fit wrote")
    _despite_gate(parser)


def _model(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--model",
        metavar="M",
        help="a shipped model's name or the path of a model file; by default the campaign's own, "
        "or one chosen by the records",
    )


def _sampling(parser: argparse.ArgumentParser, *, as_the_fit: bool = False) -> None:
    # Convergence cannot be judged from fewer than 2 chains of 4 draws.
    for name, least, default, words in (
        ("draws", 4, 1000, "retained draws per chain"),
        ("tune", 1, 1000, "tuning draws per chain"),
        ("chains", 2, 4, "chains"),
        ("cores", 1, None, "chains run in parallel"),
        ("seed", 0, 20, "seed of the random numbers"),
    ):
        usual = "number of cores, up to 4" if default is None else default
        parser.add_argument(
            f"--{name}",
            type=at_least(least),
            default=None if as_the_fit else default,
            metavar="N",
            help=f"{words} ({'as in the fit' if as_the_fit else usual})",
        )
    parser.add_argument(
        "--sampler",
        choices=("nutpie", "pymc", "numpyro"),
        default=None if as_the_fit else "nutpie",
        help=f"sampler ({'as in the fit' if as_the_fit else 'nutpie'}); "
        "numpyro runs on JAX (pip install 'fishdown[jax]')",
    )
    _despite_gate(parser)


def _despite_gate(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--despite-gate",
        action="store_true",
        help="show statements under a warning where the quality gate failed",
    )


def _ahead(parser: argparse.ArgumentParser) -> None:
    _results(parser)
    pulls = parser.add_mutually_exclusive_group(required=True)
    pulls.add_argument(
        "--pulls", type=at_least(1), metavar="K", help="number of further pulls in each lake"
    )
    pulls.add_argument(
        "--plan",
        metavar="FILE",
        help="CSV file with date, lake, net and optionally water_temp_c, one row per pull",
    )
    parser.add_argument("--lake", metavar="NAME", help="this lake only")
    _to_come(parser)
    parser.add_argument(
        "--until",
        type=a_share,
        metavar="P",
        help="end the table where this probability is reached, such as 0.9",
    )
    for name, words in (
        ("cost-per-pull", "cost of a pull (that of campaign.toml)"),
        ("cost-above", "cost of ending above the threshold"),
    ):
        parser.add_argument(f"--{name}", type=a_number, metavar="X", help=words)
    value = parser.add_mutually_exclusive_group()
    for unit, words in (("kg", "kg"), ("lb", "pound")):
        value.add_argument(
            f"--value-per-{unit}",
            type=a_number,
            metavar="X",
            help=f"value of a {words} of fish removed",
        )
    _seed(parser, 20, of="simulation")


def _budget(parser: argparse.ArgumentParser) -> None:
    _results(parser)
    parser.add_argument(
        "--days", type=at_least(1), metavar="N", help="field days in all lakes together, at most"
    )
    parser.add_argument(
        "--amount", type=a_number, metavar="X", help="money for them, at most (with --days, both)"
    )
    parser.add_argument(
        "--aim",
        choices=("lakes", "biomass"),
        default="lakes",
        help="the most lakes expected below their thresholds, or the least biomass above them "
        "(lakes)",
    )
    _to_come(parser)
    for name in ("pull", "field-day"):
        parser.add_argument(
            f"--cost-per-{name}",
            type=a_number,
            metavar="X",
            help=f"cost of a {name.replace('-', ' ')} (that of campaign.toml)",
        )
    _seed(parser, 20, of="simulation")


def _seed(parser: argparse.ArgumentParser, default: int, *, of: str = "random numbers") -> None:
    parser.add_argument(
        "--seed",
        type=at_least(0),
        default=default,
        metavar="N",
        help=f"seed of the {of} ({default})",
    )


def _to_come(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--temp",
        type=a_number,
        metavar="T",
        help="water temperature at all pulls, in °C, or in °F if the campaign's units are us "
        "(by default predicted from the readings)",
    )
    parser.add_argument(
        "--from", dest="start", type=a_day, metavar="DATE", help="day of the first pull"
    )
    for name, words in (
        ("days-between", "days between field days (as in the records)"),
        ("pulls-a-day", "pulls per field day (as in the records)"),
    ):
        parser.add_argument(f"--{name}", type=at_least(1), metavar="N", help=words)


def _lakes(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--compare-lakes",
        action="store_true",
        help="also fit each lake separately, to show the effect of partial pooling (about twice "
        "the time)",
    )


def _study(parser: argparse.ArgumentParser) -> None:
    for name, least, default, words in (
        ("simulations", 1, 200, "simulated campaigns (200)"),
        ("draws", 4, 1000, "retained draws per chain (1000)"),
        ("tune", 1, 1000, "tuning draws per chain (1000)"),
        ("chains", 2, 2, "chains (2)"),
        ("seed", 0, 20, "seed of the random numbers (20)"),
    ):
        parser.add_argument(
            f"--{name}", type=at_least(least), default=default, metavar="N", help=words
        )
    _crew(parser)


def _crew(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--cores",
        type=at_least(1),
        metavar="N",
        help="campaigns run in parallel (number of cores)",
    )
    parser.add_argument(
        "--scheduler",
        metavar="ADDRESS",
        help="address of a Dask cluster to run on, for example tcp://10.0.0.5:8786",
    )
