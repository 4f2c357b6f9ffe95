"""Packed temperatures come back as they were, to the displayed tenth."""

from __future__ import annotations

import base64
import zlib

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from irspot.rendering.report.grid import PackedGrid, packed, tenths_of
from irspot.uncertain import rounded


def unpacked(grid: PackedGrid) -> tuple[np.ndarray, np.ndarray]:
    """Read a packed grid back, pixel by pixel as a page does; written apart from the packing."""
    misses = zlib.decompress(base64.b64decode(grid.misses))
    words = np.frombuffer(zlib.decompress(base64.b64decode(grid.more)), "<u2")
    rows, columns = grid.rows, grid.columns
    zones, escaped = words[: rows * columns].reshape(rows, columns), list(words[rows * columns :])
    values = np.zeros((rows, columns), np.int64)
    for at, zigzag in enumerate(misses):
        row, column = divmod(at, columns)
        if zigzag == 255:
            values[row, column] = escaped.pop(0)
            continue
        if row == 0:
            guess = values[0, column - 1] if column else 0
        elif column == 0:
            guess = values[row - 1, 0]
        else:
            left, above, corner = values[row, column - 1], values[row - 1, column], values[row - 1, column - 1]
            guess = sorted((left, above, left + above - corner))[1]  # the median of three
        values[row, column] = guess + (-(zigzag + 1) // 2 if zigzag % 2 else zigzag // 2)
    assert escaped == []
    return values, zones


@settings(max_examples=60, deadline=None)
@given(st.integers(1, 9), st.integers(1, 11), st.integers(0, 2**32 - 1), st.sampled_from([2, 300, 65535]))
def test_every_value_comes_back(rows: int, columns: int, seed: int, most: int) -> None:
    random = np.random.default_rng(seed)
    tenths = random.integers(0, most, (rows, columns), endpoint=True).astype(np.int32)
    zones = random.integers(0, 300, (rows, columns)).astype(np.uint16)
    back, labels = unpacked(packed(tenths, zones))
    np.testing.assert_array_equal(back, tenths)
    np.testing.assert_array_equal(labels, zones)


@pytest.mark.parametrize("value", [-273.2, -40.0, -0.04, 0.05, 21.449, 81.25, 99.95, 1500.0])
def test_tenths_display_what_the_table_prints(value: float) -> None:
    code = int(tenths_of(np.array([value], np.float64))[0])
    shown = (code - 1 - 2732) / 10
    assert f"{shown:.1f}".replace("-0.0", "0.0") == rounded(value, 1)


def test_what_was_not_measured_is_zero() -> None:
    assert tenths_of(np.array([np.nan, np.inf, 20.0])).tolist() == [0, 0, 2933]


def test_a_frame_takes_no_more_than_half_a_byte_a_pixel() -> None:
    # A camera's noise of 0.07 K on smooth heat, the case a page is made of: README states what real frames take.
    y, x = np.mgrid[0:512, 0:640]
    degc = 40.0 + 30.0 * np.exp(-((x - 300) ** 2 + (y - 200) ** 2) / 9000.0)
    degc += np.random.default_rng(5).normal(0.0, 0.07, degc.shape)
    grid = packed(tenths_of(degc), (x > 100).astype(np.uint16))
    assert len(grid.misses) + len(grid.more) < 0.5 * degc.size


def test_packing_is_deterministic() -> None:
    tenths = tenths_of(np.random.default_rng(1).normal(50.0, 1.0, (40, 50)))
    zones = np.zeros((40, 50), np.uint16)
    assert packed(tenths, zones) == packed(tenths.copy(), zones)
