"""Both ways of reading tables, and the numbers that float32 values carry in their bits."""

from __future__ import annotations

import sys

import numpy as np
import pytest

from irspot.radiometry import gather as gathering
from irspot.radiometry.stored_table import look_up, tabulated, tabulates


def test_halves_are_the_bits_of_the_value() -> None:
    values = np.array([1.0, -2.5, 262_656.0 + 17 / 32, np.inf, np.nan], dtype=np.float32)
    whole = values.view(np.uint32)
    np.testing.assert_array_equal(gathering.low_half(values), whole & 0xFFFF)
    np.testing.assert_array_equal(gathering.high_half(values), whole >> 16)


def test_opencv_is_used_only_where_it_is_loaded(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delitem(sys.modules, "cv2", raising=False)
    assert gathering.gather() is gathering._BY_NUMPY


def test_both_ways_read_the_same() -> None:
    import cv2

    rng = np.random.default_rng(11)
    table = rng.standard_normal(gathering.ENTRIES).astype(np.float32)
    table[[0, 12_345, 65_535]] = np.nan
    index = np.concatenate([rng.integers(0, 65_536, 70_001), [0, 12_345, 32_767, 32_768, 65_535]])
    for way in (gathering._BY_NUMPY, gathering._by_opencv()):
        out = np.empty(index.shape, np.float32)
        way.read(table, index.astype(way.index_dtype), out)
        np.testing.assert_array_equal(out, table[index])
    if int(cv2.__version__.partition(".")[0]) >= 5:
        assert gathering._by_opencv() is not gathering._BY_NUMPY


def test_an_opencv_that_cannot_look_up_16_bits_is_left_aside(monkeypatch: pytest.MonkeyPatch) -> None:
    import cv2

    def refuse(*_: object) -> None:
        raise cv2.error("lut depth")

    gathering._by_opencv.cache_clear()
    monkeypatch.setattr(cv2, "LUT", refuse)
    try:
        assert gathering._by_opencv() is gathering._BY_NUMPY
    finally:
        gathering._by_opencv.cache_clear()


def test_types_that_fit_a_table() -> None:
    fitting = [dtype for dtype in "bBhHiIlLefd?" if tabulates(np.dtype(dtype))]
    assert fitting == ["b", "B", "h", "H"]


@pytest.mark.parametrize("dtype", ["u1", "i1", "<u2", ">u2", "<i2", ">i2"])
def test_every_number_finds_its_own_entry(dtype: str) -> None:
    info = np.iinfo(dtype)
    stored = np.arange(info.min, info.max + 1).astype(dtype).reshape(2, -1)[:, ::-1]
    table = tabulated(np.multiply, (0.5,), stored.dtype)
    np.testing.assert_array_equal(look_up(table, stored), stored.astype(np.float32) / 2)
    out = np.empty(stored.shape, np.float32)
    assert look_up(table, stored, out) is out
    np.testing.assert_array_equal(out, stored.astype(np.float32) / 2)


def test_out_of_another_shape_is_refused() -> None:
    table = tabulated(np.multiply, (0.5,), np.dtype(np.uint8))
    with pytest.raises(ValueError, match="shape"):
        look_up(table, np.zeros((3, 4), np.uint8), np.zeros((4, 3), np.float32))
