"""A fit in the terminal: sampling, checks and statements."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from fishdown.records.tables import rows_of
from fishdown.words import counted

if TYPE_CHECKING:
    from collections.abc import Mapping

    from rich.console import Console

    from fishdown.api.fit import Fit
    from fishdown.posterior.choice import Choice


def model_line(choice: Choice) -> str:
    """Name a model, and say why it is this one."""
    return f"Model {choice.spec.name} ({choice.why}): {choice.spec.title}"


def print_fit(console: Console, fitted: Fit, *, despite_gate: bool) -> None:
    """Print how a fit was sampled, its checks, its verdicts and its estimates."""
    from fishdown.display.fitted import (
        FOR_CREWS,
        common_table,
        evidence_table,
        fish_table,
        removals_table,
        verdicts_table,
    )
    from fishdown.display.table import Source
    from fishdown.statements.cautions import of_the_elusive
    from fishdown.statements.uncertainty import SOURCES
    from fishdown.terminal.render import in_terminal
    from fishdown.words import percent

    for note in fitted.run["notes"]:
        console.print(f"  left out: {note}")
    console.print(_computed(fitted))
    if "evidence" in fitted.tree.children:
        if fitted.reweighted:
            console.print("Mark–recapture and depletion, compared for the earlier records:")
        evidence = Source("evidence", fitted.evidence(despite_gate=despite_gate))
        console.print(in_terminal(evidence_table(evidence)))
        for season, name in enumerate(fitted.campaign.seasons["season"].values):
            said = fitted.disagreement(season)
            if said is not None and said.said:
                console.print(f"{name}: {said.said}.")
        console.print()
    for result in fitted.checks():
        outcome = "NOT PASSED" if result.outcome == "not passed" else result.outcome
        console.print(f"Check of {result.name}, {outcome}: {result.sentence}.")
    console.print()
    if despite_gate and not fitted.passed:
        console.print("WARNING: a gate failed; the results below may be far from the truth.")
    verdicts = Source("verdicts", fitted.verdicts(despite_gate=despite_gate))
    console.print(in_terminal(verdicts_table(verdicts)))
    for row in rows_of(verdicts.frame[verdicts.frame["when"] == "after"]):
        console.print(f"{row.statement} {row.caution}".rstrip())
        if row.background:
            shares = ", ".join(
                f"{words} {percent(getattr(row, f'share_from_{source}'))}"
                for source, words in SOURCES.items()
            )
            console.print(f"  The uncertainty comes, roughly, from {shares}. {row.background}")
    console.print()
    estimates = Source("estimates", fitted.estimates(despite_gate=despite_gate))
    reference = fitted.spec.reference_temperature
    console.print(in_terminal(fish_table(estimates, verdicts, FOR_CREWS, reference)))
    cooled = fitted.cooling(despite_gate=despite_gate)
    for statement in cooled.loc[despite_gate | (cooled["gate"] == "passed"), "statement"]:
        console.print(statement)
    common = common_table(estimates.frame, fitted.prior_shares(), fitted.spec)
    if common.rows and (fitted.passed or despite_gate):
        console.print()
        console.print(in_terminal(common))
        for statement in of_the_elusive(fitted):
            console.print(statement)
    removals = fitted.removals(despite_gate=despite_gate)
    if len(removals):
        console.print()
        console.print(in_terminal(removals_table(Source("removals", removals))))
    _print_lakes(console, fitted, despite_gate=despite_gate)


def _computed(fitted: Fit) -> str:
    """Summarise sampling and convergence."""
    run = fitted.run
    quality = run["quality_gate"]
    sampled = (
        "Draws left after reweighting: "
        if fitted.reweighted
        else f"Sampled in {run['sample_seconds']:.1f} s after {run['compile_seconds']:.1f} s of "
        f"compiling: {_settings(run['attempts'][-1])}, {counted(len(run['attempts']), 'attempt')}; "
    )
    return (
        f"{sampled}{counted(quality['divergences'], 'divergence')}, "
        f"R-hat up to {quality['largest_rhat']:.3f}, "
        f"ESS from {min(quality['smallest_ess_bulk'], quality['smallest_ess_tail']):.0f}: "
        f"quality gate {'passed' if quality['passed'] else 'FAILED'}."
    )


def _settings(attempt: Mapping[str, Any]) -> str:
    """Say how the draws of an attempt were made; fits made without a sampler lack some of it."""
    said = f"{counted(attempt['chains'], 'chain')} of {attempt['draws']:,} draws"
    more = {
        "tune": " after {:,} of tuning",
        "target_accept": ", target acceptance {:.3g}",
        "seed": ", seed {}",
        "sampler": ", {}",
    }
    return said + "".join(
        text.format(attempt[name]) for name, text in more.items() if name in attempt
    )


def _print_lakes(console: Console, fitted: Fit, *, despite_gate: bool) -> None:
    from fishdown.display.lakes import alone_table, order_table
    from fishdown.terminal.render import in_terminal

    compared = fitted.comparison(despite_gate=despite_gate)
    if compared["lake"].nunique() < 2:
        return
    order = order_table(compared, fitted.lake_pairs(despite_gate=despite_gate))
    if order.rows:
        console.print()
        console.print(in_terminal(order))
    if "alone" in fitted.tree.children:
        console.print()
        console.print(in_terminal(alone_table(compared)))
