"""Machine code of graphs: the same numbers, found again on disk, for other data too."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pymc as pm
import pytensor
import pytensor.tensor as pt
import pytest
from messy_worlds import campaign_of
from pytensor.compile.mode import Mode
from pytensor.graph.basic import Apply
from pytensor.graph.op import Op
from scipy import stats

from fishdown.models.data import fitting_spec, model_data
from fishdown.models.graph import build
from fishdown.models.spec import read_model
from fishdown.posterior.machine_code import functions
from fishdown.posterior.machine_code.fingerprint import fingerprint
from fishdown.posterior.machine_code.functions import MachineCode, compiled
from fishdown.posterior.machine_code.normal_coordinates import NormalCoordinates


class _Foreign(Op):  # type: ignore[misc]
    """An operation whose definition nobody here knows."""

    __props__ = ()

    def make_node(self, x: Any) -> Apply:
        return Apply(self, [x], [x.type()])

    def perform(self, node: Any, inputs: Any, outputs: Any) -> None:
        outputs[0][0] = inputs[0]


def digest(factor: float, *, shape: int | None = None, foreign: bool = False) -> str | None:
    x = pt.tensor("x", dtype="float64", shape=(shape,))
    scaled = pt.exp(factor * (_Foreign()(x) if foreign else x))
    return fingerprint([x], [scaled.sum(), scaled[1:]])


def test_the_same_graph_has_one_fingerprint() -> None:
    assert digest(2.0) == digest(2.0)
    assert len({digest(2.0), digest(2.5), digest(2.0, shape=3)}) == 3


def test_fingerprints_tell_names_shapes_and_releases_apart(monkeypatch: pytest.MonkeyPatch) -> None:
    x = pt.vector("x")
    assert fingerprint([x], [x], "names") != fingerprint([x], [x], "other names")
    before = digest(2.0)
    monkeypatch.setattr(
        "fishdown.posterior.machine_code.fingerprint.version", lambda name: "another release"
    )
    assert digest(2.0) != before


def test_unknown_operations_have_no_fingerprint() -> None:
    assert digest(2.0, foreign=True) is None


def model_of(lengths: np.ndarray[Any, Any], heavy: np.ndarray[Any, Any]) -> pm.Model:
    with pm.Model(coords={"group": ["light", "heavy"]}) as model:
        values = pm.Data("values", lengths)
        group = pm.Data("group_of", heavy.astype(np.int32))
        weight = pm.Data("weight", 2.5)
        # Priors of numbers that single precision holds, to which plain numbers may be narrowed.
        spread = pm.LogNormal("spread", mu=0.25, sigma=0.5)
        mean = pm.Normal("mean", mu=1.0, sigma=2.0, dims="group")
        pm.Deterministic("twice", 2.0 * mean, dims="group")
        density = pm.logp(pm.Normal.dist(mu=mean[group], sigma=spread), values)
        pm.Potential("fit", weight * density.sum())
    return model


def density_and_slope(code: MachineCode, place: Any) -> tuple[float, Any]:
    place, slope, density = np.asarray(place, float), np.zeros(code.n_dim), np.zeros(1)
    call = code.compiled_logp_func.ctypes
    kinds = call.argtypes
    pointers = (
        array.ctypes.data_as(kind)
        for array, kind in zip((place, slope, density, code.user_data), kinds[1:], strict=True)
    )
    assert call(code.n_dim, *pointers) == 0
    return density[0], slope


def by_scipy(lengths: Any, heavy: Any, place: Any) -> float:
    """Return the log-density at (ln spread, two means)."""
    log_spread, *means = place
    prior = stats.norm.logpdf(log_spread, 0.25, 0.5) + stats.norm.logpdf(means, 1.0, 2.0).sum()
    each = stats.norm.logpdf(lengths, np.asarray(means)[heavy], np.exp(log_spread))
    return float(prior + 2.5 * each.sum())


RNG = np.random.default_rng(31)
FEW, MANY = RNG.normal(1.0, 2.0, 5), RNG.normal(1.0, 2.0, 9)
PLACE = np.array([0.2, 1.4, -0.7])


@pytest.fixture
def empty_cache(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Path:
    monkeypatch.setattr("pytensor.link.numba.cache.NUMBA_CACHE_PATH", tmp_path)
    return tmp_path


@pytest.mark.sampling
@pytest.mark.usefixtures("empty_cache")
def test_machine_code_is_found_again_and_takes_other_data(monkeypatch: pytest.MonkeyPatch) -> None:
    few, many = FEW > 1.0, MANY > 1.0
    with pytensor.config.change_flags(numba__fastmath=False):
        code = compiled(model_of(FEW, few))
        density, slope = density_and_slope(code, PLACE)
        assert density == pytest.approx(by_scipy(FEW, few.astype(int), PLACE), rel=1e-9)
        ends = PLACE + 1e-5 * np.eye(3)[:, None] * np.array([[[-1.0], [1.0]]])
        by_differences = [
            (by_scipy(FEW, few.astype(int), up) - by_scipy(FEW, few.astype(int), down)) / 2e-5
            for down, up in ends
        ]
        np.testing.assert_allclose(slope, by_differences, rtol=1e-7)
        np.testing.assert_array_equal(code.initial_point_func(3), code.initial_point_func(3))

        def refused(*arguments: Any) -> None:
            pytest.fail("compiled again")

        monkeypatch.setattr(functions._Stated, "function", refused)
        again = compiled(model_of(MANY, many))
        assert density_and_slope(again, PLACE)[0] == pytest.approx(
            by_scipy(MANY, many.astype(int), PLACE), rel=1e-9
        )
        fed = again.with_data(values=FEW, group_of=few)
        assert density_and_slope(fed, PLACE)[0] == density
        assert density_and_slope(again, PLACE)[0] != density


@pytest.mark.parametrize("model", ["one_lake", "few_passes"])
def test_normal_coordinates_and_the_others_are_the_whole_density(model: str) -> None:
    campaign, _ = campaign_of("a mixture", 1, np.random.default_rng(5))
    spec, _ = fitting_spec(campaign, read_model(model))
    graph = build(spec, model_data(campaign, spec), campaign.coords)
    start = graph.initial_point()
    shapes = {name: np.shape(value) for name, value in start.items()}
    normal = NormalCoordinates.of(graph, graph.free_RVs, shapes)
    place = pt.vector("place")
    plain = Mode(linker="py", optimizer=None)
    of_normal = pytensor.function([place], normal.at(place), mode=plain)
    with pytensor.config.change_flags(mode=plain):
        others = graph.compile_fn(
            normal.log_density_of_others(), inputs=graph.value_vars, mode=plain,
            on_unused_input="ignore",
        )  # fmt: skip
    with pytensor.config.change_flags(mode=plain):
        whole = graph.compile_fn(graph.logp(sum=False), inputs=graph.value_vars, mode=plain)
    rng = np.random.default_rng(2)
    for _ in range(3):
        point = {name: value + rng.normal(0.0, 0.3, shapes[name]) for name, value in start.items()}
        joined = np.concatenate([np.ravel(point[one.name]) for one in graph.value_vars])
        density, slope = of_normal(joined)
        terms = sum(np.sum(term) for term in whole(point))
        assert density + others(point) == pytest.approx(terms, rel=1e-12)
        ends = joined + 1e-4 * np.eye(len(joined))[:, None] * np.array([[[-1.0], [1.0]]])
        differences = [(of_normal(up)[0] - of_normal(down)[0]) / 2e-4 for down, up in ends]
        np.testing.assert_allclose(slope, differences, rtol=1e-6, atol=1e-8)
    # Of a robust model nearly all priors are normal on the sampler's coordinates.
    assert len(normal.others) <= 3
