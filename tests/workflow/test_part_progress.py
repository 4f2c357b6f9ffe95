"""How far a recording is, while it is worked on elsewhere."""

from __future__ import annotations

import time
from pathlib import Path

import pytest

import irspot.workflow.full_rate as full_rate
from irspot.workflow.full_rate_run import full_rate_series
from irspot.workflow.part_progress import frames_done, parts_watched
from tests.workflow.test_full_rate import COUNT, study_of, task_of


def test_frames_done_are_those_of_the_blocks(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(full_rate, "THREADS", 1)
    part = tmp_path / "long.part"
    seen = []
    study = study_of(tmp_path / "s")
    full_rate_series(task_of(study, part), lambda done, total: seen.append((frames_done(part), (done, total))))
    assert len(seen) == 4
    assert all(read == told for read, told in seen)
    assert seen[-1][0] == (COUNT, COUNT)
    part.write_bytes(b"something else\n")
    assert frames_done(part) is None
    assert frames_done(tmp_path / "none") is None


def test_progress_is_told_of_while_tasks_are_at_work(tmp_path: Path) -> None:
    part = tmp_path / "long.part"
    told: list[tuple[int, int, str]] = []
    task = task_of(study_of(tmp_path / "s"), part)
    with parts_watched({"long": part}, lambda *each: told.append(each), every_s=0.01) as progress:
        progress(1, 3, "other")
        full_rate_series(task)
        until = time.monotonic() + 20.0
        while not any("300 of 300" in name for _, _, name in told) and time.monotonic() < until:
            time.sleep(0.01)
    assert told[0] == (1, 3, "other")
    assert told[-1] == (1, 3, "long: 300 of 300 frames")


def test_without_recordings_nothing_is_watched() -> None:
    def progress(done: int, total: int, name: str) -> None:
        raise AssertionError

    with parts_watched({}, progress) as told:
        assert told is progress
