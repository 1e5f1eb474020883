"""Records that say nothing: neither density nor gradient changes with them."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from messy_models import EVERY_MARK, ROBUST, TOLD, specification
from messy_worlds import campaign_of

import fishdown
from fishdown.models.data import fitting_spec, model_data
from fishdown.models.graph import build
from fishdown.models.padding import PADDED, common_lengths, lengths_of, padded, with_room


def test_lengths_come_in_few_steps() -> None:
    assert [with_room(n) for n in (0, 1, 2, 3, 4, 5, 6, 7, 9, 13, 40, 49, 1000)] == [
        1, 1, 2, 3, 4, 6, 6, 8, 12, 16, 48, 64, 1024,
    ]  # fmt: skip
    assert all(n <= with_room(n) <= 1.5 * n for n in range(2, 3_000))


def at_a_point(model: Any, arrays: list[dict[str, np.ndarray]]) -> list[list[np.ndarray]]:
    """Return the terms of the log-density, and its gradient, with each of several sets of data."""
    import pymc as pm
    import pytensor
    import pytensor.tensor as pt
    from pytensor.compile.mode import Mode

    plain = Mode(linker="py", optimizer=None)
    with pytensor.config.change_flags(mode=plain):
        terms = model.logp(sum=False)
        slopes = pt.grad(sum(term.sum() for term in terms), model.value_vars)
        evaluate = model.compile_fn([*terms, *slopes], inputs=model.value_vars, mode=plain)
        start = model.initial_point()
    rng = np.random.default_rng(11)
    point = {name: value + rng.normal(0.0, 0.3, np.shape(value)) for name, value in start.items()}
    found = []
    for each in arrays:
        with model:
            pm.set_data(each)
        found.append(evaluate(point))
    return found


@pytest.mark.parametrize("model", [EVERY_MARK, ROBUST, TOLD])
@pytest.mark.parametrize("lakes", [1, 2])
def test_they_say_nothing(model: str, lakes: int) -> None:
    campaign, _ = campaign_of("a mixture", lakes, np.random.default_rng(3))
    spec, _ = fitting_spec(campaign, specification(model, 1 if lakes == 1 else 6))
    assert spec.part("pooling") == ("none" if lakes == 1 else "lakes")
    check(campaign, spec)


@pytest.mark.parametrize("model", ["careful_marks", "smooth_cooling", "few_passes", "marks_only"])
def test_they_say_nothing_in_other_models(model: str) -> None:
    campaign, _ = campaign_of("a mixture", 1, np.random.default_rng(4))
    check(campaign, fitting_spec(campaign, fishdown.read_model(model))[0])


def check(campaign: fishdown.Campaign, spec: fishdown.ModelSpec) -> None:
    data = model_data(campaign, spec)
    own = lengths_of(data)
    lengths = {dim: own[dim] + more for more, dim in enumerate(PADDED, start=2) if dim in own}
    longer = padded(data, lengths)
    assert longer["counts_term_weight"].shape == (own["term"] + 7,)
    plain, filled = at_a_point(build(spec, data, campaign.coords), [data.arrays(), longer])
    for one, other in zip(plain, filled, strict=True):
        assert np.isfinite(one).all()
        scale = np.abs(one).max(initial=1.0)
        np.testing.assert_allclose(other, one, rtol=1e-12, atol=1e-12 * scale)


def test_lengths_hold_all_campaigns_and_grow_only_when_they_must() -> None:
    campaigns = [campaign_of("a mixture", lakes, np.random.default_rng(3))[0] for lakes in (1, 2)]
    spec = specification(ROBUST, 1)
    small, large = (model_data(one, fitting_spec(one, spec)[0]) for one in campaigns)
    lengths = common_lengths([small, large])
    assert set(lengths) == set(PADDED)
    # A day more than there are, for the pulls that were never made.
    assert lengths["season_date"] > lengths_of(large)["season_date"]
    for data in (small, large):
        assert all(lengths[dim] >= lengths_of(data)[dim] for dim in PADDED)
        assert common_lengths([data], lengths) == lengths
