"""Tasks over any executor, results in the tasks' order, progress as they come."""

from __future__ import annotations

import contextlib
import multiprocessing
import os
import signal
import sys
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import BrokenExecutor, Executor, Future, ProcessPoolExecutor, as_completed
from typing import TypeVar

T = TypeVar("T")
R = TypeVar("R")

Progress = Callable[[int, int, str], None]
"""Called with tasks done, tasks in all, and the name of the task just done."""


def silent(_done: int, _total: int, _name: str) -> None:
    """Show no progress."""


@contextlib.contextmanager
def executor_for(tasks: int, given: Executor | None) -> Iterator[Executor | None]:
    """Give the executor to use: the one supplied (never shut down here), or a pool of spawned processes.

    Parameters
    ----------
    tasks : int
    given : Executor or None

    Yields
    ------
    Executor or None
        None where one task is not worth a pool.
    """
    workers = min(tasks, os.cpu_count() or 1)
    if given is not None:
        yield given
    elif workers <= 1:
        yield None
    else:
        with _pool(workers) as pool:
            yield pool


@contextlib.contextmanager
def _pool(workers: int) -> Iterator[Executor]:
    """Give a pool of processes that ends at once, unfinished tasks and all, when its user is interrupted."""
    others = set(multiprocessing.active_children())
    # Spawned, not forked: OpenCV's and BLAS' threads do not survive a fork.
    with ProcessPoolExecutor(workers, mp_context=multiprocessing.get_context("spawn")) as pool:
        try:
            yield pool
        except BaseException:
            for child in set(multiprocessing.active_children()) - others:
                child.terminate()
            pool.shutdown(cancel_futures=True)
            raise


@contextlib.contextmanager
def _interrupts_held() -> Iterator[None]:
    """Hold Ctrl-C back while processes are started.

    They inherit that and never see it, or each would print a traceback of its own; this process sees it afterwards
    and ends them.
    """
    if sys.platform == "win32":
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def run_tasks(
    function: Callable[[T], R],
    tasks: Sequence[T],
    names: Sequence[str],
    executor: Executor | None,
    progress: Progress,
    failed: Callable[[T, str], R],
) -> list[R]:
    """Run a top-level function over tasks.

    Parameters
    ----------
    function : callable
        Top-level, so that it pickles; takes one task.
    tasks, names : sequence
        Tasks and what progress calls them.
    executor : Executor or None
        None runs them here, one after another.
    progress : callable
    failed : callable
        Makes the result of a task whose worker ended abruptly, from the task and the reason.

    Returns
    -------
    list
        In the tasks' order.
    """
    if executor is None:
        return [
            _here(function, task, name, i, len(tasks), progress)
            for i, (task, name) in enumerate(zip(tasks, names, strict=True))
        ]
    with _interrupts_held():
        futures = _submitted(function, tasks, executor)
    numbers = {future: i for i, future in enumerate(futures)}
    for done, future in enumerate(as_completed(futures), start=1):
        progress(done, len(tasks), names[numbers[future]])
    return [_result(function, task, future, failed) for task, future in zip(tasks, futures, strict=True)]


def _here(function: Callable[[T], R], task: T, name: str, index: int, total: int, progress: Progress) -> R:
    result = function(task)
    progress(index + 1, total, name)
    return result


def _submitted(function: Callable[[T], R], tasks: Sequence[T], executor: Executor) -> list[Future[R]]:
    futures: list[Future[R]] = []
    for task in tasks:
        try:
            futures.append(executor.submit(function, task))
        except BrokenExecutor as error:  # a worker died while others were still being handed over
            broken: Future[R] = Future()
            broken.set_exception(error)
            futures.append(broken)
    return futures


def _result(function: Callable[[T], R], task: T, future: Future[R], failed: Callable[[T, str], R]) -> R:
    try:
        return future.result()
    except BrokenExecutor:
        return _alone(function, task, failed)


def _alone(function: Callable[[T], R], task: T, failed: Callable[[T, str], R]) -> R:
    """Run a task again in a process of its own: a dead worker breaks its pool for innocent tasks too."""
    try:
        with _pool(1) as pool:
            with _interrupts_held():
                future = pool.submit(function, task)
            return future.result()
    except BrokenExecutor:
        return failed(task, "its worker process ended abruptly, most likely for want of memory")
