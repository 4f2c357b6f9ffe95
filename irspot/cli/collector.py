"""Python's search for cyclic garbage, kept out of short jobs."""

from __future__ import annotations

import gc
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def paused_collector() -> Iterator[None]:
    """Search for no cycles while a short job runs.

    Loading libraries makes many objects and no garbage, yet has Python search all of them again and again: 6 ms of the
    240 that measuring one frame takes. What such a job leaves behind is freed when its process ends, or by the next
    search; arrays are in no cycle and are freed at once as ever. Not for jobs of many frames.
    """
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()
