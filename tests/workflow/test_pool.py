"""Tasks over executors: order, progress, and a worker that dies."""

from __future__ import annotations

import multiprocessing
import os
import signal
import sys
import time
from concurrent.futures import ProcessPoolExecutor, ThreadPoolExecutor
from pathlib import Path

import pytest

from irspot.workflow.pool import executor_for, run_tasks, silent


def slow_first(task: int) -> int:
    time.sleep(0.2 if task == 0 else 0.0)
    return task * task


def dies_on_two(task: int) -> int:
    if task == 2:
        os._exit(9)
    return task


def reason_of(task: int, reason: str) -> str:
    return f"{task}: {reason}"


def test_results_keep_the_tasks_order_whatever_finishes_first() -> None:
    seen: list[tuple[int, int, str]] = []
    with ThreadPoolExecutor(3) as pool:
        results = run_tasks(slow_first, [0, 1, 2], ["a", "b", "c"], pool, lambda *args: seen.append(args), reason_of)
    assert results == [0, 1, 4]
    assert [done for done, _, _ in seen] == [1, 2, 3]
    assert {name for _, _, name in seen} == {"a", "b", "c"}


def test_without_an_executor_tasks_run_here() -> None:
    assert run_tasks(slow_first, [1, 2, 3], list("abc"), None, silent, reason_of) == [1, 4, 9]


def test_a_dying_worker_costs_its_own_task_only() -> None:
    with ProcessPoolExecutor(2, mp_context=multiprocessing.get_context("spawn")) as pool:
        results = run_tasks(dies_on_two, [1, 2, 3, 4], list("abcd"), pool, silent, reason_of)
    assert results[0] == 1
    assert "ended abruptly" in str(results[1])
    assert results[2:] == [3, 4]


def test_one_task_needs_no_pool_and_a_given_executor_is_not_shut_down() -> None:
    with executor_for(1, None) as workers:
        assert workers is None
    with ThreadPoolExecutor(1) as mine:
        with executor_for(5, mine) as workers:
            assert workers is mine
        assert mine.submit(lambda: 7).result() == 7


def test_an_error_in_a_task_is_not_swallowed() -> None:
    def fails(_: int) -> int:
        raise ValueError("ours")

    with ThreadPoolExecutor(1) as pool, pytest.raises(ValueError, match="ours"):
        run_tasks(fails, [1], ["a"], pool, silent, reason_of)


def linger(path: str) -> str:
    """Come back at once with an empty path; else write the file after a long while."""
    if path:
        time.sleep(60.0)
        Path(path).write_bytes(b"too late")
    return path


def holds_interrupts_back(_task: int) -> bool:
    return signal.SIGINT in signal.pthread_sigmask(signal.SIG_BLOCK, ())


def test_an_interruption_ends_the_workers_and_is_passed_on(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(os, "cpu_count", lambda: 2)
    files = ["", *(str(tmp_path / str(n)) for n in range(4))]
    before = set(multiprocessing.active_children())

    def interrupt(_done: int, _total: int, _name: str) -> None:
        raise KeyboardInterrupt

    def failed(task: str, _reason: str) -> str:
        return task

    with pytest.raises(KeyboardInterrupt), executor_for(2, None) as pool:
        run_tasks(linger, files, files, pool, interrupt, failed)
    assert set(multiprocessing.active_children()) <= before
    assert not list(tmp_path.iterdir())


@pytest.mark.skipif(sys.platform == "win32", reason="signals are held back on POSIX systems only")
def test_workers_leave_interruptions_to_their_parent(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(os, "cpu_count", lambda: 2)
    with executor_for(2, None) as pool:
        held = run_tasks(holds_interrupts_back, [1, 2], ["a", "b"], pool, silent, lambda _task, _reason: False)
    assert held == [True, True]
    assert not holds_interrupts_back(0)
