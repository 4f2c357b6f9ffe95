"""How far long recordings are, read from what is kept of them while tasks are at work elsewhere."""

from __future__ import annotations

import json
import threading
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Final

from irspot.workflow.pool import Progress

EVERY_S: Final = 5.0


def frames_done(part: Path) -> tuple[int, int] | None:
    """Give the frames that a file of blocks holds, and how many there are in all; None where there is no such file.

    Parameters
    ----------
    part : Path
        See `irspot.workflow.full_rate`.
    """
    try:
        with part.open("rb") as stream:
            head = stream.readline(1 << 20)
        size = part.stat().st_size - len(head)
        facts = json.loads(head)
        frames = int(facts["frames"])
        of_frame, block = int(facts["record"]) * int(facts["zones"]), int(facts["block"])
        done = size // (of_frame * block + 4) * block
        # The last block is shorter than the others.
        return (frames if size >= frames * of_frame + -(-frames // block) * 4 else done), frames
    except (OSError, ValueError, KeyError, TypeError, ZeroDivisionError):
        return None


@contextmanager
def parts_watched(parts: Mapping[str, Path], progress: Progress, every_s: float = EVERY_S) -> Iterator[Progress]:
    """Tell every few seconds how many frames of each recording are done.

    Parameters
    ----------
    parts : mapping of str to Path
        Run ids, and where what is found of each is kept.
    progress : callable
        Told so under the name of the run.
    every_s : float

    Yields
    ------
    callable
        To be told of finished tasks in the place of `progress`.
    """
    if not parts:
        yield progress
        return
    tasks, ended, lock = [0, 0], threading.Event(), threading.Lock()

    def told(done: int, total: int, name: str) -> None:
        with lock:
            tasks[:] = [done, total]
            progress(done, total, name)

    def watch() -> None:
        seen = {run: frames_done(part) for run, part in parts.items()}
        while not ended.wait(every_s):
            for run, part in parts.items():
                found = frames_done(part)
                if found is not None and found != seen[run]:
                    seen[run] = found
                    with lock:
                        progress(tasks[0], max(tasks[1], len(parts)), f"{run}: {found[0]:,} of {found[1]:,} frames")

    thread = threading.Thread(target=watch, daemon=True)
    thread.start()
    try:
        yield told
    finally:
        ended.set()
        thread.join()
