"""A parallel map for long work: in this process, in several, or on a Dask cluster."""

from __future__ import annotations

import gc
import logging
import signal
from concurrent.futures import CancelledError, ProcessPoolExecutor, as_completed
from concurrent.futures.process import BrokenProcessPool
from contextlib import closing, contextmanager
from functools import partial
from multiprocessing import active_children, get_context
from typing import TYPE_CHECKING, Any

from fishdown.errors import FitError
from fishdown.version import __version__

if TYPE_CHECKING:
    from collections.abc import Callable, Generator, Iterator, Sequence

# Seconds to wait for a cluster before saying that there is none.
PATIENCE = 20


@contextmanager
def parallel_map[Task, Result](
    do: Callable[[Task], Result],
    tasks: Sequence[Task],
    *,
    work: str,
    cores: int = 1,
    scheduler: str | None = None,
) -> Iterator[Iterator[tuple[Task, Result]]]:
    """Do tasks on this machine or on a cluster; processes and connections end with the block.

    A cluster is looked for when the block is entered, so that nothing need be written before it is
    found; tasks are begun when the first result is asked for.

    Parameters
    ----------
    do : callable
        Does one task. It is pickled, as are the tasks and what comes of them.
    work : str
        What they are part of, for messages, such as "the study".
    cores : int
        Processes on this machine; with 1 this one does it.
    scheduler : str, optional
        Address of a Dask scheduler, for example ``tcp://10.0.0.5:8786``, to use its workers
        instead. It and they need the same fishdown.

    Yields
    ------
    iterator of (task, result)
        As they are done, in any order.

    Raises
    ------
    FitError
        If Dask is not installed, nobody answers at that address, or a process or worker is lost.
    """
    if scheduler is None or not tasks:
        with closing(here(do, tasks, cores, work)) as done:
            yield done
        return
    with _client(scheduler) as client:
        yield _there(client, do, tasks, work)


def here[Task, Result](
    do: Callable[[Task], Result], tasks: Sequence[Task], cores: int, work: str
) -> Generator[tuple[Task, Result]]:
    """Do tasks on this machine; yields each with its result as it is done."""
    if cores == 1 or len(tasks) <= 1:
        for task in tasks:
            yield task, do(task)
        return
    # Fresh processes: a fork would carry over the threads of the samplers.
    others = {*active_children()}
    finished = False
    workers = ProcessPoolExecutor(
        min(cores, len(tasks)), mp_context=get_context("spawn"), initializer=_end_quietly
    )
    try:
        waiting = {workers.submit(do, task): task for task in tasks}
        for done in as_completed(waiting):
            yield waiting[done], done.result()
        finished = True
    except BrokenProcessPool as error:
        raise FitError(
            f"a process of {work} ended by itself, for want of memory perhaps; what was done is "
            "kept: run the same again, on fewer cores"
        ) from error
    finally:
        if not finished:
            # Or Python would wait for what they are doing before it ends.
            for process in {*active_children()} - others:
                process.terminate()
        # The rest it gives back now, not when the process ends, which may be in haste.
        workers.shutdown(cancel_futures=True)
        del workers
        gc.collect()


def _end_quietly() -> None:
    """Let Ctrl-C, which reaches every process of a terminal, end this one without a traceback."""
    signal.signal(signal.SIGINT, signal.SIG_DFL)


@contextmanager
def _client(scheduler: str) -> Iterator[Any]:
    try:
        from distributed import Client
    except ImportError as error:
        raise FitError(
            "a cluster needs Dask: pip install 'fishdown[cluster]', here and on the workers"
        ) from error
    # Dask would print tracebacks of its own beside what we say.
    logger = logging.getLogger("distributed.client")
    level = logger.level
    logger.setLevel(logging.CRITICAL)
    try:
        try:
            client = Client(scheduler, timeout=PATIENCE, set_as_default=False)
        except (OSError, ValueError) as error:
            raise FitError(
                f"no Dask scheduler answers at {scheduler}; start one and give its address, "
                "for example tcp://10.0.0.5:8786"
            ) from error
        with client:
            _check_workers(client, scheduler)
            yield client
    finally:
        logger.setLevel(level)


def _check_workers(client: Any, scheduler: str) -> None:
    """See that there is a worker, and that it and the scheduler have this fishdown."""
    try:
        client.wait_for_workers(1, timeout=PATIENCE)
    except TimeoutError as error:
        raise FitError(
            f"the Dask scheduler at {scheduler} has no workers; start some, for example with "
            f"dask worker {scheduler}"
        ) from error
    another = f"the Dask cluster at {scheduler} has another fishdown; install {__version__} there"
    try:
        theirs = client.submit(_version, pure=False).result()
    except (ImportError, AttributeError, RuntimeError) as error:
        raise FitError(another) from error
    if theirs != __version__:
        raise FitError(f"{another} in place of {theirs}")


def _version() -> str:
    return __version__


def _there[Task, Result](
    client: Any, do: Callable[[Task], Result], tasks: Sequence[Task], work: str
) -> Iterator[tuple[Task, Result]]:
    from distributed import KilledWorker
    from distributed import as_completed as as_finished
    from distributed.comm import CommClosedError

    try:
        futures = client.map(partial(_with_task, do), tasks, pure=False)
        for done in as_finished(futures, loop=client.loop):
            yield done.result()
    except ImportError as error:
        raise FitError(
            f"a worker of the cluster lacks something ({error}); install the same fishdown there "
            "as here"
        ) from error
    except (KilledWorker, CommClosedError, CancelledError) as error:
        raise FitError(
            f"the cluster lost a worker or its scheduler during {work}; what was done is kept: "
            "see that all have memory enough, and run the same again"
        ) from error


def _with_task[Task, Result](do: Callable[[Task], Result], task: Task) -> tuple[Task, Result]:
    return task, do(task)
