"""Zone statistics per frame under fixed geometry, against scikit-image and scipy on the same label image.

Run by hand: ``python tests/benchmarks/bench_zone_statistics.py [frames]``.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable

import cv2
import numpy as np
from scipy import ndimage
from skimage.measure import regionprops_table

from irspot.board import Board, Zone
from irspot.camera import Optics
from irspot.conditions import Conditions
from irspot.frame import degc_frame
from irspot.measurement import measure_zones
from irspot.measurement.extremes import runs_of, zone_extremes
from irspot.measurement.geometry import Geometry, geometry_of
from irspot.registration import place
from irspot.registration.placement import Placement
from irspot.shapes import rectangle
from irspot.study import CornersPx

COLUMNS, ROWS = 640, 512


def bench_board() -> Board:
    zones = tuple(
        Zone(f"z{row}{column}", rectangle(8.0 + column * 39.0, 12.0 + row * 74.0, 28.0, 50.0))
        for row in range(4)
        for column in range(6)
    )
    return Board("bench", rectangle(0, 0, 244, 305), zones=zones)


def bench_placement(board: Board) -> Placement:
    corners = ((62.0, 500.0), (590.0, 492.0), (571.0, 14.0), (88.0, 21.0))
    return place(board, (COLUMNS, ROWS), Optics(), CornersPx(corners))


def labels_of(geometry: Geometry) -> np.ndarray:
    labels = np.zeros((ROWS, COLUMNS), dtype=np.int32)
    for number, zone in enumerate(geometry.all, start=1):
        labels[zone.slices][zone.mask] = number
    return labels


def best_of(work: Callable[[], object], repeats: int = 7) -> float:
    """Seconds of the quickest of several calls: what the work costs when nothing else gets in its way."""
    times = []
    for _ in range(repeats):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return min(times)


def numpy_max(stack: np.ndarray) -> None:
    for frame in stack:
        np.max(frame)


def line(what: str, measured: float, target: float) -> None:
    print(f"{what:<66} {measured:8.4f} {target:8.4f}  {'met' if measured <= target else 'MISSED'}")


def main() -> None:
    cv2.setNumThreads(1)
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 2000
    board = bench_board()
    placement = bench_placement(board)
    rng = np.random.default_rng(1)
    stack = rng.normal(50.0, 5.0, (count, ROWS, COLUMNS)).astype(np.float32) if count < 200 else _tiled(rng, count)
    frame = stack[0]
    geometry = geometry_of(board, placement)
    labels, runs = labels_of(geometry), runs_of(geometry)
    index = np.arange(1, 26)

    ours = best_of(lambda: zone_extremes(stack[:1], runs), 50)
    skimage = best_of(lambda: regionprops_table(labels, frame, properties=("label", "intensity_max", "intensity_mean")))
    scipy = best_of(
        lambda: (
            ndimage.maximum(frame, labels, index),
            ndimage.mean(frame, labels, index),
            ndimage.maximum_position(frame, labels, index),
        )
    )
    print(
        f"one frame: ours {ours * 1e3:.3f} ms, regionprops_table {skimage * 1e3:.2f} ms, ndimage {scipy * 1e3:.2f} ms"
    )
    print(f"{'':<66} {'measured':>8} {'target':>8}")
    line("maximum, mean, place / regionprops_table (max, mean)", ours / skimage, 1.0 / 6.0)
    line("maximum, mean, place / scipy.ndimage (the same three)", ours / scipy, 1.0 / 50.0)

    base = best_of(lambda: numpy_max(stack), 3)
    print(f"{count} frames: numpy.max {base / count * 1e6:.1f} µs a frame")
    line("stack, one thread / numpy.max", best_of(lambda: zone_extremes(stack, runs), 3) / base, 6.0)
    line("stack, two threads / numpy.max", best_of(lambda: zone_extremes(stack, runs, threads=2), 3) / base, 4.0)

    def cold() -> None:
        geometry_of.cache_clear()
        measure_zones(degc_frame(frame), board, placement, Conditions(21.0, reflected_degc=22.0))

    def bare_geometry() -> None:
        geometry_of.cache_clear()
        geometry_of(board, placement)

    line("geometry of 24 zones [s]", best_of(bare_geometry), 0.025)
    line("measure_zones of one frame, geometry included [s]", best_of(cold), 0.040)


def _tiled(rng: np.random.Generator, count: int) -> np.ndarray:
    """Frames that differ, for a tenth of the time that drawing each of their pixels would take."""
    noise = rng.normal(50.0, 5.0, (ROWS, COLUMNS + 97)).astype(np.float32)
    return np.stack([noise[:, k % 97 : k % 97 + COLUMNS] + np.float32(0.01 * k) for k in range(count)])


if __name__ == "__main__":
    main()
