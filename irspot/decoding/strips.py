"""Work on a picture with two threads: numpy and OpenCV let both run at once.

What a pixel becomes does not depend on which thread works on it, so that results are the same on any number of
processors.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable
from concurrent.futures import ThreadPoolExecutor
from functools import lru_cache
from typing import Final, TypeVar

_Item = TypeVar("_Item")

_FEWEST: Final = 1 << 13
"""Pixels from which work is shared; handing it over takes about as long as fewer do."""
_THREADS: Final = 2


def in_strips(work: Callable[[slice], None], count: int) -> None:
    """Do work on pixels, which are counted along rows.

    Parameters
    ----------
    work : callable
        Is given a range of pixels, reads and writes only these, and calls nothing here by itself.
    count : int
        Of all pixels.
    """
    middle = count // 2 if count >= _FEWEST else count
    two_at_a_time(work, [part for part in (slice(0, middle), slice(middle, count)) if part.start < part.stop])


def two_at_a_time(work: Callable[[_Item], None], items: Iterable[_Item]) -> None:
    """Do work on items that have nothing in common, two of them at a time.

    Parameters
    ----------
    work : callable
    items : iterable
        What it is given, one after the other.
    """
    todo = list(items)
    if len(todo) < 2:
        for item in todo:
            work(item)
        return
    for _ in _threads().map(work, todo):
        pass


@lru_cache(maxsize=1)
def _threads() -> ThreadPoolExecutor:
    """Give threads that are kept, since starting some takes as long as many a step."""
    return ThreadPoolExecutor(_THREADS, thread_name_prefix="decoding")


if hasattr(os, "register_at_fork"):
    # A copy of this process has none of its threads.
    os.register_at_fork(after_in_child=_threads.cache_clear)
