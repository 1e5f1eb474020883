"""Marked fish kept in pens: what they say of survival and retention, and how they are entered."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from field_records import daily_pulls
from graph_points import values_of_graph
from scipy import stats

import fishdown
from fishdown.checks.effective_marks_alone import effective_marks
from fishdown.identifiability.codes import Identified
from fishdown.identifiability.seasons import what_is_identified
from fishdown.models.data import fitting_spec
from fishdown.models.parts.marks.pens import pens
from fishdown.models.parts.marks.release_groups import kinds_at_large
from fishdown.records import read_records
from fishdown.records.codes import Wrong
from fishdown.sentences import Said

CATCHES, SEEN = [40, 31, 25, 9, 12, 30], [4, 2, 3, 0, 1, 5]
PENS = {"fin_clip": (20, 18, 17), "pit_tag": (15, 15, 12), "both": (10, 9, 9)}


def folder(folder_of: Callable[..., Path], **more: dict[str, Any]) -> Path:
    return folder_of(
        lakes=[{"lake": "Alder", "area_ha": 20}],
        pulls=daily_pulls("Alder", CATCHES, recaptured=SEEN),
        marked=[
            {"date": "2024-05-01", "lake": "Alder", "batch": mark, "mark": mark, "released": 30,
             **dict(zip(("penned", "pen_alive", "pen_marked"), counts, strict=True)),
             **more.get(mark, {})}
            for mark, counts in PENS.items()
        ],
    )  # fmt: skip


def test_the_graph_has_the_binomial_densities(folder_of: Callable[..., Path]) -> None:
    campaign = fishdown.read(folder(folder_of))
    spec, _ = fitting_spec(campaign, fishdown.read_model("one_lake"))
    posterior, potentials = values_of_graph(campaign, spec)
    c, t, alive = (
        posterior[name].values[0, :, 0]
        for name in ("clip_retention", "tag_retention", "post_release_survival")
    )
    penned, lived, marked = np.array(list(PENS.values())).T
    expected = stats.binom.logpmf(lived.sum(), penned.sum(), alive)
    # The order in which the fish died is not counted: one coefficient over all pens.
    assert potentials["pens_lived"] == pytest.approx(expected, rel=1e-9)
    chance = np.array([c, t, 1 - (1 - c) * (1 - t)])
    expected = stats.binom.logpmf(marked[:, None], lived[:, None], chance).sum(axis=0)
    assert potentials["pens_retained"] == pytest.approx(expected, rel=1e-9)


def nodes_of(campaign: fishdown.Campaign, spec: fishdown.ModelSpec) -> np.ndarray:
    kinds, kept = kinds_at_large(campaign)[0], pens(campaign).of_lake(0)
    return np.prod(effective_marks(kinds, kept, spec, 0.0), axis=0)


def test_marks_only_hears_of_pens(folder_of: Callable[..., Path]) -> None:
    """Of 1,000 tagged fish in a pen half lost their tag: so did those in the lake."""
    half = {"pit_tag": {"penned": 1_000, "pen_alive": 1_000, "pen_marked": 500}}
    only_tags = fishdown.read(folder(folder_of, **half))
    spec, _ = fitting_spec(only_tags, fishdown.read_model("one_lake"))
    told = np.median(nodes_of(only_tags, spec))
    none = {mark: dict.fromkeys(("penned", "pen_alive", "pen_marked"), "") for mark in PENS}
    untold = np.median(nodes_of(fishdown.read(folder(folder_of, **none)), spec))
    # A third of the marks are tags alone.
    assert told / untold == pytest.approx(1 - 0.5 / 3, abs=0.06)


def test_check_tells_of_pens(folder_of: Callable[..., Path]) -> None:
    alder, *_ = what_is_identified(read_records(folder(folder_of)))
    assert Said(Identified.PENS, {"fish": 45}) in alder.identified


@pytest.mark.parametrize(
    ("counts", "column", "code"),
    [
        ({"pen_alive": 21}, "pen_alive", Wrong.PEN_ABOVE),
        ({"pen_marked": 19}, "pen_marked", Wrong.PEN_ABOVE),
        ({"penned": ""}, "pen_alive", Wrong.PEN_ABOVE),
        ({"pen_marked": ""}, "pen_marked", Wrong.PEN_UNFINISHED),
    ],
)
def test_pens_that_do_not_add_up(
    folder_of: Callable[..., Path], counts: dict[str, Any], column: str, code: Wrong
) -> None:
    with pytest.raises(fishdown.RecordsError) as refused:
        fishdown.read(folder(folder_of, fin_clip=counts))
    found = [(one.code, one.column, one.row) for one in refused.value.problems]
    assert (code, column, 2) in found
