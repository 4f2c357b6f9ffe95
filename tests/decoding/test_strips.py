"""Work shared by two threads: nothing left out, nothing done twice, nothing hidden."""

import numpy as np
import pytest

from irspot.decoding.strips import in_strips, two_at_a_time


@pytest.mark.parametrize("count", [0, 1, 7, 8191, 8192, 307_201])
def test_every_pixel_is_worked_on_once(count: int) -> None:
    times = np.zeros(count, np.int64)

    def work(strip: slice) -> None:
        times[strip] += 1

    in_strips(work, count)
    assert (times == 1).all()


def test_every_item_is_worked_on_once() -> None:
    done: list[int] = []
    two_at_a_time(done.append, range(23))
    assert sorted(done) == list(range(23))


@pytest.mark.parametrize("items", [1, 5])
def test_what_goes_wrong_in_a_thread_is_told(items: int) -> None:
    def work(item: int) -> None:
        if item == items - 1:
            raise ValueError("the last one")

    with pytest.raises(ValueError, match="the last one"):
        two_at_a_time(work, range(items))
