"""Arguments of `fishdown years`."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fishdown.terminal.argument_values import a_number, at_least

if TYPE_CHECKING:
    import argparse


def add_years(parser: argparse.ArgumentParser) -> None:
    """Add what `fishdown years` takes besides the folder and the seed."""
    parser.add_argument(
        "--years", type=at_least(1), default=5, metavar="K", help="how many, 1 to 15 (5)"
    )
    removal = parser.add_mutually_exclusive_group()
    for kind, metavar, words in (
        ("fish", "N", "fish removed from each lake every year"),
        ("kg", "KG", "the same in kg"),
        ("lb", "LB", "the same in pounds"),
        ("share", "S", "the same as a share of the fish, 0 to 1"),
    ):
        removal.add_argument(f"--remove-{kind}", type=a_number, metavar=metavar, help=words)
    parser.add_argument(
        "--young",
        choices=("eaten", "open", "strong-year", "strong-years"),
        help="one recruitment scenario: suppressed by egg and fry predators, not suppressed, a "
        "strong year class next year (all of these three), or strong year classes at random",
    )
    for rate, words in (
        ("survival", "survival of fish from year to year, 0 to 1"),
        ("recruits", "recruitment without egg and fry predators, fish/ha a year"),
    ):
        parser.add_argument(
            f"--{rate}",
            type=a_number,
            nargs=2,
            metavar=("LOW", "HIGH"),
            help=f"{words}: 90 %% interval, in place of that of the fit or the prior",
        )
    parser.add_argument(
        "--recruitment",
        choices=("steady", "stock"),
        default="steady",
        help="whether recruitment depends on the fish left, with most young at low abundance "
        "(steady)",
    )
    parser.add_argument(
        "--compensation",
        action="store_true",
        help="natural mortality of the fish left falls after netting, as in three lakes with up to "
        "43 %% removed a year",
    )
    parser.add_argument(
        "--check-every",
        type=at_least(1),
        metavar="C",
        help="compare a constant removal with a rule: check the lake every C years, and net as far "
        "as the estimate of biomass asks",
    )
    parser.add_argument(
        "--check-error",
        type=a_number,
        metavar="V",
        help="coefficient of variation of that estimate (that of the fit's own estimate)",
    )
    parser.add_argument(
        "--most-removed",
        type=a_number,
        metavar="S",
        help="largest share of the fish that nets can remove in a year, under both (0.5)",
    )
