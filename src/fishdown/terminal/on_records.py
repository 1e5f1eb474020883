"""The commands that look at records alone; each returns its exit code."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

from rich.padding import Padding

from fishdown.errors import FishdownError
from fishdown.records.problems import RecordsError, listed
from fishdown.terminal.console import plain_console
from fishdown.terminal.exit_codes import DONE, PROBLEMS, USAGE
from fishdown.units import shown_in
from fishdown.words import counted

if TYPE_CHECKING:
    import argparse
    from collections.abc import Iterator, Sequence

    from fishdown.records.problems import Problem


def check(options: argparse.Namespace) -> int:
    """Read the records, list their problems, and state what can be estimated from them."""
    from fishdown.identifiability.seasons import what_is_identified
    from fishdown.marks_elsewhere import elsewhere_lines
    from fishdown.records import read_records
    from fishdown.records.visits import heard, heard_lines

    try:
        records = read_records(options.folder)
    except RecordsError as error:
        print(error, file=sys.stderr)
        for line in _suggested(options.folder, error.problems):
            print(line, file=sys.stderr)
        return PROBLEMS
    console = plain_console()
    for line in listed(records.warnings):
        console.print(line)
    for line in _suggested(options.folder, records.warnings):
        # To be copied: never broken.
        console.print(line, soft_wrap=True)
    console.print(
        f"{records.settings.title}: {counted(len(records.lakes), 'lake')}, "
        f"{counted(len(records.pulls), 'pull')}, {records.pulls['caught'].sum():,} fish caught, "
        f"{counted(len(records.measured), 'fish', 'fish')} measured; no problems found."
    )
    found = heard(records)
    for line in (*heard_lines(records, found), *elsewhere_lines(records)):
        console.print(line)
    console.print("\nWhat can be estimated from these records:")
    with shown_in(records.settings.units):
        for finding in what_is_identified(records, found):
            console.print(Padding(str(finding), (0, 0, 0, 2), expand=False))
    return DONE


def _suggested(folder: str, problems: Sequence[Problem]) -> Iterator[str]:
    """Yield lines with the settings that would settle problems, and what they leave."""
    from fishdown.records.suggested import suggested_settings

    found = suggested_settings(folder, problems)
    if found is None:
        return
    where = (
        "lines into the column setting of the sheet campaign, one below the other"
        if found.workbook
        else "lines into campaign.toml, above the first line in [square brackets]"
    )
    yield ""
    yield f"Copy these {where},"
    yield "if each says what you mean. They settle headings, units, dates and decimals at once:"
    yield ""
    yield from found.lines
    yield ""
    if found.left:
        left = counted(len(found.left), "problem")
        yield f"The records were read again with them, and {left} left:"
        yield from (f"  {line}" for line in listed(found.left))
    else:
        yield "The records were read again with them, and no problem is left."


def new(options: argparse.Namespace) -> int:
    """Write a campaign to fill in."""
    from fishdown.blank_campaign import new_campaign

    try:
        written = new_campaign(options.path, us=options.us)
    except FishdownError as error:
        print(f"fishdown: {error}", file=sys.stderr)
        return USAGE
    options.saved = options.path
    console = plain_console()
    console.print(f"Written to {options.path}: {', '.join(written)}.")
    console.print(
        "Fill in the title, and replace the example row of each table by your own. Then: "
        f"fishdown check {options.path}"
    )
    return DONE


def formulas(options: argparse.Namespace) -> int:
    """Print the classical estimators of each season."""
    from fishdown.campaign import read
    from fishdown.formulas import classical_estimators
    from fishdown.terminal.formulas import print_formulas

    campaign = read(options.folder).netted
    console = plain_console()
    for position, season in enumerate(campaign.seasons["season"].values):
        pulls = campaign.season_pulls(position).to_dataframe()
        print_formulas(console, str(season), classical_estimators(pulls))
    console.print(
        "Mark–recapture estimators count the fish marked in the season and released alive before "
        "the pull; marks of earlier seasons are left out, and so are their recaptures."
    )
    moved = campaign.seasons[["moved", "marks_moved"]].map(abs).to_array().values.any(axis=0)
    if moved.any():
        names = ", ".join(campaign.seasons["season"].values[moved].tolist())
        console.print(
            f"Fish that came or went other than by the nets ({names}) are not in these estimators."
        )
    console.print(
        "These estimators assume equal catchability of all fish, at every pull and at every "
        "temperature, and no schooling, so their intervals are too narrow."
    )
    return DONE


def priors(options: argparse.Namespace) -> int:
    """Print the priors of a model, and what they imply for these lakes."""
    from fishdown.campaign import read
    from fishdown.display.priors import implied_table, priors_table
    from fishdown.models.data import fitting_spec
    from fishdown.models.implied import implied
    from fishdown.posterior.choice import choose_model
    from fishdown.terminal.fitted import model_line
    from fishdown.terminal.render import in_terminal

    campaign = read(options.folder)
    choice = choose_model(campaign, options.model)
    spec, notes = fitting_spec(campaign, choice.spec)
    console = plain_console()
    console.print(model_line(choice))
    for note in notes:
        console.print(f"  left out: {note}")
    with shown_in(campaign.settings.units):
        console.print(in_terminal(priors_table(spec)))
        console.print(in_terminal(implied_table(implied(spec, campaign, draws=20_000, seed=1))))
    console.print("Each prior can be set in your own model file: fishdown fit --model FILE.")
    return DONE
