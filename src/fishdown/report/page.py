"""What the page says, gathered from a fit; nothing here knows how it will look."""

from __future__ import annotations

import base64
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import pandas as pd

from fishdown.checks.result import FALSE_ALARM, check_frame
from fishdown.decisions.dependence import dependence_sentences
from fishdown.decisions.rates import WORDS
from fishdown.display.ahead import some_pulls_table
from fishdown.display.bycatch import bycatch_table, effects_table, limits_table
from fishdown.display.fitted import (
    FOR_MANAGERS,
    effort_table,
    elsewhere_table,
    estimates_table,
    evidence_table,
    fish_table,
    removals_table,
    sources_table,
    verdicts_table,
)
from fishdown.display.priors import priors_table
from fishdown.display.table import Source, Table
from fishdown.display.worth import worth_sentences, worth_table
from fishdown.display.years import assumptions_table, last_years_table, rules_table
from fishdown.figures import NAMES
from fishdown.records.settings import COMMON_CARP_THRESHOLD_KG_PER_HA
from fishdown.report.cards import Card, cards
from fishdown.report.decisions import decisions
from fishdown.report.pictures import Picture, pictures, pictures_ahead, pictures_of_checks
from fishdown.spreadsheet import safe_csv
from fishdown.statements.bycatch import by_month_and_mesh, by_species
from fishdown.statements.bycatch_limits import against_limits
from fishdown.statements.comparison import comparison, lake_pairs
from fishdown.statements.cooling import cooling
from fishdown.statements.effort import effort
from fishdown.statements.elsewhere import elsewhere
from fishdown.statements.estimates import estimates
from fishdown.statements.evidence import evidence
from fishdown.statements.in_units import shown_frame
from fishdown.statements.removals import removals
from fishdown.statements.sources import sources
from fishdown.statements.updates import how_taken_up
from fishdown.statements.verdicts import verdicts
from fishdown.units import label, shown
from fishdown.version import __version__
from fishdown.words import SCALE, counted

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from fishdown.checks.result import CheckResult
    from fishdown.models.spec import ModelSpec
    from fishdown.posterior.fitted import FittedCampaign


@dataclass(frozen=True)
class Page:
    """Everything the template lays out."""

    title: str
    species: str
    days: str
    sizes: str
    despite_gate: bool
    version: str
    model: str
    seed: int | None
    cards: tuple[Card, ...]
    tables: dict[str, Table]
    pictures: dict[str, tuple[Picture, ...]]
    problems: tuple[str, ...]
    left_out: tuple[str, ...]
    tensions: tuple[str, ...]
    reweighted: bool
    supposed: dict[str, str]
    depends: tuple[str, ...]
    rules: tuple[str, ...]
    worth: tuple[str, ...]
    checks: tuple[CheckResult, ...]
    false_alarm: str
    cooling: tuple[str, ...]
    downloads: tuple[tuple[str, str, str], ...]
    provenance: tuple[tuple[str, str], ...]
    hashes: tuple[tuple[str, str], ...]
    model_text: str
    scale: tuple[tuple[str, str], ...]
    parts: dict[str, str]
    reference: str
    turbid: str


# file → what is in it
FILES = {
    "verdicts": "the verdict on every lake and season",
    "removals": "additional removal needed, fish and kg",
    "estimates": "every estimated quantity",
    "effort": "effort and catch",
    "bycatch": "bycatch by species",
    "bycatch_limits": "bycatch against its limits",
    "bycatch_effects": "bycatch by month and mesh",
    "cooling": "effect of cooling on the share of fish that a pull takes",
    "comparison": "comparison of lakes",
    "lake_pairs": "probability that one lake exceeds another",
    "elsewhere": "marked fish seen in another lake than their own",
    "sources": "each kind of evidence, how much of it, and what it says",
    "evidence": "mark–recapture only, depletion only, joint",
    "checks": "model checks",
    "ahead": "pulls to come",
    "years": "years ahead",
    "forecast_assumptions": "what the years ahead depend on",
    "harvest_rules": "a check every so many years against a constant removal",
    "worth": "what a measurement would tell",
}


def gather(
    fit: FittedCampaign,
    folder: Path | None = None,
    *,
    checks: Sequence[CheckResult],
    despite_gate: bool,
) -> Page:
    """Collect what the page says.

    Parameters
    ----------
    folder : Path, optional
        Where tables of pulls and years ahead may lie.
    despite_gate : bool
        Show what a failed gate would withhold, under a warning.
    """
    campaign = fit.campaign
    ahead, not_shown = decisions(fit, folder, despite_gate=despite_gate)
    frames = frames_of(fit, checks, despite_gate=despite_gate) | ahead
    files = {name: Source(name, frame) for name, frame in frames.items()}
    days = campaign.pulls["date"].values.astype("datetime64[D]")
    first, last = days.min(), days.max()
    sizes = (
        counted(campaign.lakes.sizes["lake"], "lake"),
        counted(campaign.seasons.sizes["season"], "season of a lake", "seasons of lakes"),
        counted(campaign.pulls.sizes["pull"], "pull"),
        f"{campaign.pulls['caught'].values.sum():,.0f} fish caught",
    )
    failed = [result for result in checks if result.outcome == "not passed"]
    said = [fit.disagreement(season) for season in range(campaign.seasons.sizes["season"])]
    names = campaign.seasons["season"].values
    return Page(
        title=campaign.settings.title,
        species=campaign.settings.species,
        days=f"{first} to {last}",
        sizes=", ".join(sizes),
        despite_gate=despite_gate and not fit.passed,
        version=__version__,
        model=fit.spec.name,
        seed=fit.run.get("seed"),
        cards=cards(fit, files["verdicts"], despite_gate=despite_gate),
        tables=_tables(fit.spec, files),
        pictures={name: pictures(fit, name, despite_gate=despite_gate) for name in NAMES}
        | {"checks": pictures_of_checks(checks)}
        | pictures_ahead(ahead),
        problems=(*campaign.warnings, *not_shown),
        left_out=tuple(fit.run.get("notes", ())),
        tensions=tuple(
            f"{name}: {found.said}."
            for name, found in zip(names, said, strict=True)
            if found is not None and found.said
        )
        + tuple(
            f"A check of the fit against its records failed ({result.name}): {result.sentence}."
            for result in failed
        ),
        reweighted=fit.reweighted,
        checks=tuple(checks),
        false_alarm=f"{100 * FALSE_ALARM:g} %",
        supposed=_supposed(ahead),
        depends=(
            dependence_sentences(ahead["forecast_assumptions"])
            if "forecast_assumptions" in ahead
            else ()
        ),
        rules=rule_sentences(ahead),
        worth=worth_sentences(files["worth"]) if "worth" in files else (),
        cooling=tuple(files["cooling"].frame["statement"]) if "cooling" in files else (),
        downloads=tuple(
            (f"{name}.csv", label(FILES[name]), _download(source.frame))
            for name, source in files.items()
        ),
        provenance=provenance(fit),
        hashes=tuple(sorted(fit.run.get("input_sha256", {}).items())),
        model_text=str(fit.run.get("model_text", "")),
        scale=_scale(),
        parts=dict(fit.spec.parts),
        reference=f"{shown(fit.spec.reference_temperature, '°C'):g}",
        turbid=f"{shown(COMMON_CARP_THRESHOLD_KG_PER_HA, 'kg/ha'):.0f}",
    )


def _supposed(ahead: dict[str, pd.DataFrame]) -> dict[str, str]:
    """Return the rates of the projection that come from priors, each in words with its unit."""
    if "years" not in ahead:
        return {}
    named = ahead["years"]["rates_from_prior"].dropna().str.split(", ").explode()
    return {name: label("{} ({})".format(*WORDS[name])) for name in named if name}


def rule_sentences(ahead: dict[str, pd.DataFrame]) -> tuple[str, ...]:
    """Return what is said of the rule with checks and of the constant removal."""
    if "harvest_rules" not in ahead:
        return ()
    return tuple(ahead["harvest_rules"]["statement"].drop_duplicates())


def frames_of(
    fit: FittedCampaign, checks: Sequence[CheckResult], *, despite_gate: bool
) -> dict[str, pd.DataFrame]:
    """Return the tables on a fit by their names in `FILES`, those with rows."""
    caught = fit.bycatch_estimates
    frames = {
        "verdicts": verdicts(fit, despite_gate=despite_gate),
        "removals": removals(fit, despite_gate=despite_gate),
        "estimates": estimates(fit, despite_gate=despite_gate),
        "effort": effort(fit, despite_gate=despite_gate),
        "bycatch": by_species(caught),
        "bycatch_limits": against_limits(caught),
        "bycatch_effects": by_month_and_mesh(caught),
        "sources": sources(fit, despite_gate=despite_gate),
        "elsewhere": elsewhere(fit),
    }
    if fit.campaign.lakes.sizes["lake"] > 1:
        frames["comparison"] = comparison(fit, despite_gate=despite_gate)
        frames["lake_pairs"] = lake_pairs(fit, despite_gate=despite_gate)
    if "catchability_at_reference" in fit.quantities:
        frames["cooling"] = cooling(fit, despite_gate=despite_gate)
    if "evidence" in fit.tree.children:
        frames["evidence"] = evidence(fit, despite_gate=despite_gate)
    frames["checks"] = check_frame(checks)
    return {name: frame for name, frame in frames.items() if len(frame)}


def _tables(spec: ModelSpec, files: dict[str, Source]) -> dict[str, Table]:
    makers = {
        "verdicts": verdicts_table,
        "effort": effort_table,
        "removals": removals_table,
        "bycatch": bycatch_table,
        "bycatch_limits": limits_table,
        "bycatch_effects": effects_table,
        "sources": sources_table,
        "elsewhere": elsewhere_table,
        "evidence": evidence_table,
        "estimates": estimates_table,
        "ahead": some_pulls_table,
        "years": last_years_table,
        "forecast_assumptions": assumptions_table,
        "harvest_rules": rules_table,
        "worth": worth_table,
    }
    tables = {name: make(files[name]) for name, make in makers.items() if name in files}
    tables["left"] = fish_table(
        files["estimates"], files["verdicts"], FOR_MANAGERS, spec.reference_temperature
    )
    tables["priors"] = priors_table(spec)
    return tables


def provenance(fit: FittedCampaign) -> tuple[tuple[str, str], ...]:
    """Return how a fit came about: model, seed, sampler and versions, each in words."""
    run = fit.run
    attempt = run["attempts"][-1] if run.get("attempts") else {}
    gate = run.get("quality_gate", {})
    updated = run.get("update")
    lines = {
        "Model": f"{fit.spec.name} ({run.get('model_title', fit.spec.title)})",
        "Why this model": run.get("model_choice"),
        "Seed": run.get("seed"),
        "Chains, retained and tuning draws per chain": _joined(attempt, "chains", "draws", "tune"),
        "Sampler": attempt.get("sampler"),
        "Target acceptance": _joined(attempt, "target_accept"),
        "Attempts": len(run.get("attempts", ())) or None,
        "Divergences": gate.get("divergences"),
        "New pulls": how_taken_up(updated) if updated else None,
        "Compiling, s": run.get("compile_seconds"),
        "Sampling, s": run.get("sample_seconds"),
        "Versions": ", ".join(" ".join(pair) for pair in run.get("versions", {}).items()) or None,
    }
    return tuple((name, str(value)) for name, value in lines.items() if value is not None)


def _joined(entry: dict[str, Any], *names: str) -> str | None:
    values = [f"{entry[name]:,}" for name in names if name in entry]
    return ", ".join(values) or None


def _download(frame: pd.DataFrame) -> str:
    """Return a table as a data URI of a CSV file without formulas."""
    encoded = base64.b64encode(safe_csv(shown_frame(frame)).encode("utf-8")).decode("ascii")
    return f"data:text/csv;charset=utf-8;base64,{encoded}"


def _scale() -> tuple[tuple[str, str], ...]:
    """Return the words for probabilities with their limits in percent."""
    rows = []
    upper = 1.0
    for limit, words in SCALE:
        if limit == 0.0:
            shown = f"less than {100 * upper:.0f} %"
        elif upper == 1.0:
            shown = f"{100 * limit:.0f} % or more"
        else:
            shown = f"{100 * limit:.0f} to {100 * upper:.0f} %"
        rows.append((words, shown))
        upper = limit
    return tuple(rows)
