"""Fits of records with handmade draws, for figures and pages: no sampling is needed."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import xarray as xr
from fake_fits import walked_besides
from field_records import write_folder

import fishdown
from fishdown import Fit
from fishdown.checks.evidence import both_speak, compare
from fishdown.models.data import fitting_spec, model_data
from fishdown.models.graph import build
from fishdown.posterior.quantities import reported_quantities

SIZE = (4, 500)
# Names that are markup to a browser or a formula to a spreadsheet.
HOSTILE = ("<script>alert(1)</script>", "+1+1", '"><img src=x onerror=alert(1)>')

# By what decides on it: building a graph for it takes longer than the rest of a fit.
_WALKED: dict[str, dict[str, Any]] = {}


def records(
    folder: Path,
    lakes: Sequence[str] = ("Pond",),
    seasons: Sequence[int] = (2024,),
    *,
    weighed: bool = True,
    warm: bool = True,
    marked: int = 60,
    bycatch: Sequence[str] = ("roach", "perch"),
) -> Path:
    """Write a campaign of twelve pulls a lake and season, catches falling as the water cools."""
    rng = np.random.default_rng(3)
    tables: dict[str, list[dict[str, Any]]] = {
        name: [] for name in ("pulls", "marked", "measured", "bycatch")
    }
    for lake in lakes:
        for season in seasons:
            if marked:
                tables["marked"].append(
                    {
                        "date": dt.date(season, 5, 2),
                        "lake": lake,
                        "batch": f"spring {season}",
                        "mark": "fin_clip",
                        "released": marked,
                        "died": 1,
                    }
                )
            for pull in range(12):
                date = dt.date(season, 6, 10) + dt.timedelta(days=10 * (pull // 2))
                caught = int(rng.poisson(40.0 * 0.9**pull)) + 4
                tables["pulls"].append(
                    {
                        "date": date,
                        "lake": lake,
                        "net": "AB"[pull % 2],
                        "order": 1 + pull % 2,
                        "caught": caught,
                        "recaptured": min(3, caught) if marked else "",
                        "water_temp_c": ""
                        if pull == 5 or not warm
                        else round(24.0 - 0.9 * pull, 1),
                        "spoiled": "yes" if pull == 7 else "no",
                    }
                )
                for place, species in enumerate(bycatch):
                    if (pull + place) % 3 == 0:
                        tables["bycatch"].append(
                            {
                                "date": date,
                                "lake": lake,
                                "net": "AB"[pull % 2],
                                "species": species,
                                "count": 1 + place + pull % 2,
                                "dead": pull % 2,
                            }
                        )
            if weighed:
                tables["measured"] += [
                    {
                        "date": dt.date(season, 6, 10),
                        "lake": lake,
                        "net": "A",
                        "weight_kg": round(2.0 + 0.1 * fish, 2),
                    }
                    for fish in range(6)
                ]
    places = [{"lake": lake, "area_ha": 10.0 + 7.5 * n} for n, lake in enumerate(lakes)]
    return write_folder(
        folder, lakes=places, **{name: rows for name, rows in tables.items() if rows}
    )


def drawn_fit(
    folder: Path,
    model: str = "pooled_lakes",
    *,
    seed: int = 5,
    divergences: int = 0,
    **parts: str,
) -> Fit:
    """Fit by hand: draws around what the records suggest, through the real reported quantities."""
    campaign = fishdown.read(folder)
    asked = fishdown.read_model(model).with_parts(**parts)
    spec, notes = fitting_spec(campaign, asked)
    posterior = _posterior(campaign, spec, np.random.default_rng(seed))
    quantities = reported_quantities(posterior, campaign, spec)
    diverging = np.zeros(SIZE, dtype=bool)
    diverging.flat[:divergences] = True
    groups = {
        "posterior": _with_all_walked(posterior, campaign, spec),
        "quantities": quantities,
        "sample_stats": xr.Dataset({"diverging": (("chain", "draw"), diverging)}),
    }
    if both_speak(campaign, spec):
        before = quantities["abundance_before"]
        wider = np.random.default_rng(seed + 1).lognormal(0.1, 0.3, before.shape)
        groups["evidence"] = compare(campaign, spec, both=before, depletion=before * wider)
    attempt = {"draws": SIZE[1], "tune": 500, "chains": SIZE[0], "seed": seed, "sampler": "nutpie"}
    run = {
        "title": campaign.settings.title,
        "model": spec.name,
        "model_title": asked.title,
        "model_text": asked.text,
        "model_parts": dict(spec.parts),
        "model_priors": {name: prior.entry() for name, prior in spec.priors.items()},
        "notes": list(notes),
        "seed": seed,
        "versions": {"fishdown": fishdown.__version__},
        "input_sha256": dict(campaign.hashes or {}),
        "attempts": [attempt],
        "quality_gate": {
            "divergences": divergences,
            "largest_rhat": 1.001,
            "smallest_ess_bulk": 1900.0,
            "smallest_ess_tail": 1800.0,
            "passed": not divergences,
        },
        "compile_seconds": 0.0,
        "sample_seconds": 0.0,
        "depletion_alone": None,
    }
    tree = xr.DataTree.from_dict({**groups, "campaign": campaign.to_tree()})
    return Fit(campaign, spec, tree, run)


def with_thresholds(fit: Fit, *thresholds: float) -> Fit:
    """Move the thresholds of all lakes, kg/ha; one for all, or one each."""
    lakes = fit.campaign.lakes.copy(deep=True)
    lakes["threshold"].values[:] = thresholds
    campaign = replace(fit.campaign, lakes=lakes)
    tree = fit.tree.copy()
    tree["campaign"] = campaign.to_tree()
    return replace(fit, campaign=campaign, tree=tree)


def _with_all_walked(
    posterior: xr.Dataset, campaign: fishdown.Campaign, spec: fishdown.ModelSpec
) -> xr.Dataset:
    data = model_data(campaign, spec)
    lengths = {name: np.shape(values) for name, values in data.arrays().items()}
    key = str((spec.parts, campaign.coords, lengths))
    if key not in _WALKED:
        model = build(spec, data, campaign.coords)
        _WALKED[key] = walked_besides(model, SIZE, np.random.default_rng(1), derived=True)
    besides = _WALKED[key]
    return posterior.assign({name: besides[name] for name in set(besides) - set(posterior)})


def _posterior(
    campaign: fishdown.Campaign, spec: fishdown.ModelSpec, rng: np.random.Generator
) -> xr.Dataset:
    seasons, lakes = campaign.seasons, campaign.lakes
    bound = seasons["gone"].values + seasons["marks_left"].values + 10.0
    by_season = (*SIZE, len(bound))
    room = np.maximum(_by_marks(campaign) - bound, 0.4 * bound)
    by_lake = (*SIZE, lakes.sizes["lake"])
    dims = ("chain", "draw")
    found: dict[str, Any] = {
        "abundance": ((*dims, "season"), bound + room * rng.lognormal(0.0, 0.1, by_season)),
        "schooling": ((*dims, "lake"), rng.lognormal(-0.5, 0.1, by_lake)),
    }
    if spec.part("catchability") == "per_lake":
        found["catchability"] = ((*dims, "lake"), rng.beta(20.0, 400.0, by_lake))
    else:
        share = rng.lognormal(np.log(0.05), 0.15, by_lake)
        found["area_fished_ha"] = ((*dims, "lake"), share * lakes["area"].values)
    if spec.part("temperature") != "none":
        effect = rng.lognormal(np.log(0.5), 0.2, by_lake)
        found["temperature_effect"] = ((*dims, "lake"), effect)
        if spec.part("pooling") == "lakes":
            found["temperature_effect_typical"] = (dims, rng.lognormal(np.log(0.5), 0.15, SIZE))
    if spec.part("marks") == "effective":
        found["effective_marks"] = ((*dims, "season"), rng.lognormal(-0.05, 0.2, by_season))
    if spec.part("recaptures") == "clumped":
        found["clumping"] = (dims, rng.lognormal(np.log(0.3), 0.3, SIZE))
    if spec.part("weights") == "measured":
        found["mean_weight"] = ((*dims, "season"), rng.lognormal(np.log(2.2), 0.05, by_season))
        if spec.part("weighed") != "at_random":
            # Of its own, so that the other draws stay as they are.
            apart = rng.spawn(1)[0]
            found["net_selectivity"] = (dims, apart.lognormal(0.0, 0.05, SIZE))
            found["weight_trend"] = (dims, apart.normal(0.0, 0.01, SIZE))
    # Likewise.
    if spec.part("natural_deaths") == "steady":
        found["natural_mortality"] = (dims, rng.spawn(1)[0].lognormal(np.log(0.09), 0.3, SIZE))
    if spec.part("scatter") == "with_catchability" and spec.part("evidence") != "marks":
        found["scatter_exponent"] = (dims, rng.spawn(1)[0].normal(-0.25, 0.1, SIZE))
    if spec.part("marks") == "effective":
        kept = np.random.default_rng(7)
        for name in ("clip_retention", "tag_retention", "post_release_survival"):
            same = kept.beta(30.0, 2.0, SIZE)[..., None]
            found[name] = ((*dims, "lake"), np.repeat(same, lakes.sizes["lake"], axis=-1))
    coords = {"season": seasons["season"].values, "lake": lakes["lake"].values}
    return xr.Dataset(found, coords=coords)


def _by_marks(campaign: fishdown.Campaign) -> np.ndarray[Any, Any]:
    """Chapman's estimate of each season, all pulls together; 0 without marks."""
    index = campaign.pulls["season_index"].values
    caught, seen = (
        np.bincount(index, weights=np.nan_to_num(campaign.pulls[name].values))
        for name in ("caught", "recaptured")
    )
    marked = campaign.seasons["marked"].values
    return np.where(marked > 0, (marked + 1.0) * (caught + 1.0) / (seen + 1.0) - 1.0, 0.0)
