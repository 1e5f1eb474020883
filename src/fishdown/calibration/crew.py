"""Who does the simulations: this process, several, or the workers of a Dask cluster."""

from __future__ import annotations

from concurrent.futures import ProcessPoolExecutor, as_completed
from concurrent.futures.process import BrokenProcessPool
from functools import partial
from multiprocessing import get_context
from typing import TYPE_CHECKING, Any

from fishdown.calibration.simulation import Job, simulation
from fishdown.errors import FitError

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

# Seconds to wait for a cluster before saying that there is none.
PATIENCE = 20


def here(job: Job, numbers: Sequence[int], cores: int) -> Iterator[tuple[int, dict[str, Any]]]:
    """Do simulations on this machine; yields each with its number as it is done.

    Parameters
    ----------
    job : Job
    numbers : sequence of int
    cores : int
        Processes; with 1 this one does it.
    """
    if cores == 1 or len(numbers) == 1:
        for number in numbers:
            yield number, simulation(job, number)
        return
    # Fresh processes: a fork would carry over the threads of the samplers.
    pool = ProcessPoolExecutor(min(cores, len(numbers)), mp_context=get_context("spawn"))
    try:
        waiting = {pool.submit(simulation, job, number): number for number in numbers}
        for done in as_completed(waiting):
            yield waiting[done], done.result()
    except BrokenProcessPool as error:
        raise FitError(
            "a process of the study ended by itself, for want of memory perhaps; what was done is "
            "kept: run the same again, on fewer cores"
        ) from error
    finally:
        pool.shutdown(wait=False, cancel_futures=True)


def cluster(
    job: Job, numbers: Sequence[int], scheduler: str
) -> Iterator[tuple[int, dict[str, Any]]]:
    """Do simulations on the workers of a Dask cluster; yields each as it is done.

    Parameters
    ----------
    job : Job
    numbers : sequence of int
    scheduler : str
        Address, for example ``tcp://10.0.0.5:8786``. Its workers need the same fishdown.

    Raises
    ------
    FitError
        If Dask is not installed, or nobody answers at that address.
    """
    try:
        from distributed import Client
        from distributed import as_completed as as_finished
    except ImportError as error:
        raise FitError(
            "a cluster needs Dask: pip install 'fishdown[cluster]', here and on the workers"
        ) from error
    try:
        client = Client(scheduler, timeout=PATIENCE, set_as_default=False)
    except (OSError, ValueError) as error:
        raise FitError(
            f"no Dask scheduler answers at {scheduler}; start one and give its address, "
            "for example tcp://10.0.0.5:8786"
        ) from error
    with client:
        futures = client.map(partial(_numbered, job), numbers, pure=False)
        for done in as_finished(futures, loop=client.loop):
            yield done.result()


def _numbered(job: Job, number: int) -> tuple[int, dict[str, Any]]:
    return number, simulation(job, number)
