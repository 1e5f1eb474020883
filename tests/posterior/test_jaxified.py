"""Graphs as functions of JAX, against PyTensor's own evaluation of the same graphs."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from tiers import no_machine_code

import fishdown
from fishdown.demo import demo_folder
from fishdown.models.data import fitting_spec, model_data
from fishdown.models.graph import build

# Recaptures, catches, weights and pooling; the others take as long to compile, and are slow.
USUAL = {"marks_only", "pooled_lakes"}
MODELS = [
    pytest.param(path.stem, marks=() if path.stem in USUAL else pytest.mark.slow)
    for path in sorted((Path(__file__).parents[2] / "models").glob("*.toml"))
]


@pytest.fixture(scope="module")
def campaign() -> fishdown.Campaign:
    return fishdown.read(demo_folder() / "watershed")


def graph_of(campaign: fishdown.Campaign, spec: fishdown.ModelSpec) -> Any:
    return build(spec, model_data(campaign, spec), campaign.coords)


@pytest.mark.parametrize("model", MODELS)
def test_the_density_of_every_model(campaign: fishdown.Campaign, model: str) -> None:
    import jax

    from fishdown.posterior.jaxified import JaxGraph

    spec, _ = fitting_spec(campaign, fishdown.read_model(model))
    model_of = graph_of(campaign if spec.part("years") == "linked" else campaign.netted, spec)
    graph = JaxGraph(model_of)
    data = graph.own_data()
    with no_machine_code():
        # Term by term: in sum, they are too many for PyTensor's evaluation without machine code.
        inputs, outputs = model_of.value_vars, model_of.logp(sum=False)
        terms = model_of.compile_fn(outputs, inputs=inputs, point_fn=False)
        start = np.concatenate([np.ravel(value) for value in model_of.initial_point().values()])
    in_jax = jax.jit(graph.log_density)
    np.testing.assert_allclose(graph.start(data), start, rtol=1e-12, atol=1e-12)
    rng = np.random.default_rng(7)
    for _ in range(3):
        point = start + rng.normal(0.0, 0.4, graph.size)
        expected = sum(term.sum() for term in terms(*graph.apart(point)))
        assert np.isfinite(expected)
        assert float(in_jax(point, data)) == pytest.approx(expected, rel=1e-9)
