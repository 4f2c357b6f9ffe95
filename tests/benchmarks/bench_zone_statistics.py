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
from irspot.placing import CornersPx
from irspot.registration import place
from irspot.registration.placement import Placement
from irspot.shapes import rectangle

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


def bench_one_measurement(board: Board, placement: Placement) -> None:
    noise = np.random.default_rng(0).normal(0.0, 0.1, (ROWS, COLUMNS))
    scene = (40.0 + noise + np.linspace(0.0, 30.0, COLUMNS)).astype(np.float32)

    def measured() -> None:
        geometry_of.cache_clear()
        measure_zones(degc_frame(scene), board, placement, Conditions(21.0, reflected_degc=22.0))

    def geometry() -> None:
        geometry_of.cache_clear()
        geometry_of(board, placement)

    line("geometry of 24 zones [s]", best_of(geometry, 15), 0.025)
    line("measure_zones of one frame, geometry included [s]", best_of(measured, 15), 0.040)


def bench_one_frame(frame: np.ndarray, geometry: Geometry) -> None:
    labels, runs, index = labels_of(geometry), runs_of(geometry), np.arange(1, 26)
    ours = best_of(lambda: zone_extremes(frame[None], runs), 50)
    skimage = best_of(lambda: regionprops_table(labels, frame, properties=("label", "intensity_max", "intensity_mean")))
    scipy = best_of(
        lambda: (
            ndimage.maximum(frame, labels, index),
            ndimage.mean(frame, labels, index),
            ndimage.maximum_position(frame, labels, index),
        )
    )
    line("maximum, mean, place / regionprops_table (max, mean)", ours / skimage, 1.0 / 6.0)
    line("maximum, mean, place / scipy.ndimage (the same three)", ours / scipy, 1.0 / 50.0)
    print(f"  (ours {ours * 1e3:.3f} ms, regionprops_table {skimage * 1e3:.2f} ms, ndimage {scipy * 1e3:.2f} ms)")


def bench_stack(stack: np.ndarray, geometry: Geometry) -> None:
    runs = runs_of(geometry)
    base = best_of(lambda: numpy_max(stack), 3)
    line("stack, one thread / numpy.max", best_of(lambda: zone_extremes(stack, runs), 3) / base, 6.0)
    line("stack, two threads / numpy.max", best_of(lambda: zone_extremes(stack, runs, threads=2), 3) / base, 4.0)
    print(f"  ({len(stack)} frames, numpy.max {base / len(stack) * 1e6:.1f} µs a frame)")


def main() -> None:
    cv2.setNumThreads(1)
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 2000
    board = bench_board()
    placement = bench_placement(board)
    geometry = geometry_of(board, placement)
    print(f"{'':<66} {'measured':>8} {'target':>8}")
    bench_one_measurement(board, placement)
    stack = frames(count)
    bench_one_frame(stack[0], geometry)
    bench_stack(stack, geometry)


def frames(count: int) -> np.ndarray:
    """Frames that differ, for a tenth of the time that drawing each of their pixels would take."""
    noise = np.random.default_rng(1).normal(50.0, 5.0, (ROWS, COLUMNS + 97)).astype(np.float32)
    return np.stack([noise[:, k % 97 : k % 97 + COLUMNS] + np.float32(0.01 * k) for k in range(count)])


if __name__ == "__main__":
    main()
