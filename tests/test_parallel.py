"""Tasks done by this process, by several, and by a cluster; and what may go wrong."""

from __future__ import annotations

import os
import time
from collections.abc import Iterator
from typing import Any

import pytest

from fishdown.errors import FitError
from fishdown.parallel import parallel_map


def square(number: int) -> tuple[int, int]:
    time.sleep(0.05)
    return number**2, os.getpid()


def breaks(number: int) -> None:
    os._exit(1)


def lacks(number: int) -> None:
    raise ModuleNotFoundError("No module named 'rowing'")


@pytest.fixture(scope="module")
def cluster() -> Iterator[Any]:
    distributed = pytest.importorskip("distributed")
    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, processes=False, dashboard_address=":0"
    ) as both:
        yield both


def test_this_process_does_all_in_order_one_after_another() -> None:
    with parallel_map(square, range(5), work="the study") as done:
        first = next(done)
        assert first == (0, (0, os.getpid()))
        assert [task for task, _ in done] == [1, 2, 3, 4]


def test_several_processes() -> None:
    with parallel_map(square, range(12), work="the study", cores=2) as done:
        found = dict(done)
    assert {task: result for task, (result, _) in found.items()} == {n: n**2 for n in range(12)}
    assert os.getpid() not in {process for _, process in found.values()}


def test_a_process_that_ends_by_itself() -> None:
    with (
        pytest.raises(FitError, match="a process of the study ended by itself"),
        parallel_map(breaks, range(2), work="the study", cores=2) as done,
    ):
        list(done)


def test_a_cluster_of_two(cluster: Any) -> None:
    with parallel_map(square, range(5), work="x", scheduler=cluster.scheduler_address) as done:
        assert {task: result for task, (result, _) in done} == {n: n**2 for n in range(5)}


def test_a_cluster_that_lacks_something(cluster: Any) -> None:
    with (
        pytest.raises(FitError, match="install the same fishdown there"),
        parallel_map(lacks, [0], work="x", scheduler=cluster.scheduler_address) as done,
    ):
        list(done)


def test_nobody_answers(monkeypatch: pytest.MonkeyPatch) -> None:
    pytest.importorskip("distributed")
    monkeypatch.setattr("fishdown.parallel.PATIENCE", 1)
    with (
        pytest.raises(FitError, match="no Dask scheduler answers at tcp://127"),
        parallel_map(square, [0], work="x", scheduler="tcp://127.0.0.1:1"),
    ):
        pass


def test_a_scheduler_without_workers(monkeypatch: pytest.MonkeyPatch) -> None:
    distributed = pytest.importorskip("distributed")
    monkeypatch.setattr("fishdown.parallel.PATIENCE", 1)
    with (
        distributed.LocalCluster(n_workers=0, processes=False, dashboard_address=":0") as none,
        pytest.raises(FitError, match="has no workers; start some"),
        parallel_map(square, [0], work="x", scheduler=none.scheduler_address),
    ):
        pass


def test_a_cluster_of_another_fishdown(cluster: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("fishdown.parallel._version", lambda: "0.0.9")
    with (
        pytest.raises(FitError, match=r"has another fishdown; install .* in place of 0\.0\.9"),
        parallel_map(square, [0], work="x", scheduler=cluster.scheduler_address),
    ):
        pass
