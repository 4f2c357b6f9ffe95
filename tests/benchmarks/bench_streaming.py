"""Full-rate extraction of a recording, against numpy.max on the same memory and against reading the file alone.

Run by hand: ``python tests/benchmarks/bench_streaming.py FOLDER [frames of the long file]``. Files are written to the
folder (2,000 frames are 1.3 GB, 32,400 frames of an hour 21 GB) and removed at the end. What is not cached was dropped
from the page cache beforehand (``posix_fadvise``); without that call (Windows, macOS) those lines are left out.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path

import numpy as np
import tifffile

from irspot.camera import Accuracy, Camera, RawLayout, Signal
from irspot.measurement.full_rate import ZoneReader
from irspot.measurement.geometry import geometry_of
from irspot.placing import CornersPx
from irspot.registration.placement import Placement
from irspot.study import Readout, Run
from irspot.workflow.full_rate_run import full_rate_series
from irspot.workflow.opened import conditions_of
from irspot.workflow.tasks import MeasureTask
from tests.benchmarks.bench_zone_statistics import COLUMNS, ROWS, bench_board, bench_placement, best_of, line

PLAIN_BYTES = 4 << 20
SHORT = 2000
RATE = 9.0


def camera(raw: bool = False) -> Camera:
    layout = RawLayout(COLUMNS, ROWS, "uint16") if raw else None
    accuracy = Accuracy(noise_k=0.1, assumed=False)
    return Camera("bench", Signal(unit="K", scale=0.01), accuracy=accuracy, raw=layout, declared=True)


def scene() -> np.ndarray:
    """A warm board on a cool bench, its zones warmer, wide enough that frames can be cut from it."""
    board = bench_board()
    degc = np.full((ROWS, COLUMNS), 23.0)
    geometry = geometry_of(board, bench_placement(board))
    degc[geometry.elsewhere.slices][geometry.elsewhere.mask] = 40.0
    for number, zone in enumerate(geometry.zones):
        degc[zone.slices][zone.mask] = 50.0 + number
    return degc


def frames(count: int) -> Iterator[np.ndarray]:
    """Counts of frames whose noise differs and whose zones warm up; the board stays where it is."""
    noise = np.random.default_rng(1).normal(0.0, 10.0, (ROWS, COLUMNS + 97))
    still = (scene() + 273.15) * 100.0
    some = [(still + noise[:, k : k + COLUMNS]).astype(np.uint16) for k in range(97)]
    for k in range(count):
        yield some[k % 97] + np.uint16(k // 97)


def write(path: Path, count: int) -> None:
    if path.suffix == ".tiff":
        with tifffile.TiffWriter(path, bigtiff=count > 3000) as writer:
            for frame in frames(count):
                writer.write(frame, photometric="minisblack", contiguous=False, metadata=None)
    else:
        with path.open("wb") as file:
            if path.suffix == ".npy":
                header = {"descr": "<u2", "fortran_order": False, "shape": (count, ROWS, COLUMNS)}
                np.lib.format.write_array_header_1_0(file, header)
            for frame in frames(count):
                file.write(frame.tobytes())
    with path.open("rb") as file:
        os.fsync(file.fileno())


def task_of(path: Path, part: Path, processes: int) -> MeasureTask:
    board = bench_board()
    corners = ((62.0, 500.0), (590.0, 492.0), (571.0, 14.0), (88.0, 21.0))
    run = Run(
        id="bench",
        board="b",
        load="l",
        side="front",
        frame_files=(path,),
        camera=camera(path.suffix == ".raw"),
        placement=CornersPx(corners),
        recording=True,
        readout=Readout(last_frames=2),
        frame_interval_s=1.0 / RATE,
        sample_s=0.0,
        ambient_degc=21.0,
        reflected_degc=22.0,
    )
    return MeasureTask(run, board, None, part=part, processes=processes)


def read_alone(path: Path) -> None:
    buffer = bytearray(PLAIN_BYTES)
    with path.open("rb", buffering=0) as file:
        while file.readinto(buffer):  # type: ignore[attr-defined]
            pass


def extracted(path: Path, processes: int = 1) -> None:
    """All of it: opening, times, looking after the board, every frame, the table."""
    with tempfile.TemporaryDirectory(dir=path.parent) as folder:
        series, _ = full_rate_series(task_of(path, Path(folder) / "part", processes))
        assert series is not None
        assert series.full_rate is not None
        with (Path(folder) / "table.csv").open("wb") as stream:
            series.full_rate.write(stream)


def dropped(path: Path) -> bool:
    """Drop a file from the page cache; whether that can be done."""
    if not hasattr(os, "posix_fadvise"):
        return False
    with path.open("rb") as file:
        os.fsync(file.fileno())
        os.posix_fadvise(file.fileno(), 0, 0, os.POSIX_FADV_DONTNEED)
    return True


def seconds(work: Callable[[], object]) -> float:
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def bench_memory(count: int) -> None:
    """The reading of zones alone, on frames in memory."""
    board = bench_board()
    where: Placement = bench_placement(board)
    stack = np.stack(list(frames(count)))
    base = best_of(lambda: [np.max(frame) for frame in stack], 3)
    task = task_of(Path("none.npy"), Path("part"), 1)
    from irspot.measurement.applied import applied_to
    from irspot.measurement.readings import elsewhere_zone

    applied = [applied_to(z, conditions_of(task.run)) for z in (*board.zones, elsewhere_zone(board, "front"))]
    zones = ZoneReader(geometry_of(board, where), np.ones((ROWS, COLUMNS), bool), applied, camera(), stack.dtype)
    ours = best_of(lambda: [zones.figures(frame) for frame in stack], 3)
    print(f"  zones of {count} frames in memory / numpy.max: {ours / base:.1f} ({ours / count * 1e3:.3f} ms a frame)")


def bench_cached(path: Path) -> None:
    read_alone(path)
    took: dict[int, list[float]] = {0: [], 1: [], 2: []}
    for _ in range(5):
        # In turns, so that what else the machine does meets all alike.
        took[0].append(seconds(lambda: read_alone(path)))
        for processes in (1, 2):
            took[processes].append(seconds(partial(extracted, path, processes)))
    for processes in (1, 2):
        ratio = min(took[processes]) / min(took[0])
        line(f"{path.suffix[1:]}, cached, {processes} process(es) / reading alone", ratio, 4.0)
    print(f"  ({SHORT} frames, reading alone {min(took[0]) / SHORT * 1e3:.3f} ms a frame)")


def bench_uncached(path: Path, count: int) -> None:
    alone, took = [], {1: [], 2: []}
    for _ in range(2):
        if not dropped(path):
            return
        alone.append(seconds(lambda: read_alone(path)))
        for processes in (1, 2):
            dropped(path)
            took[processes].append(seconds(partial(extracted, path, processes)))
    for processes in (1, 2):
        ratio = min(took[processes]) / min(alone)
        line(f"{path.suffix[1:]}, not cached, {processes} process(es) / reading alone", ratio, 1.4)
    print(f"  ({count} frames, {path.stat().st_size / 1e9:.1f} GB, reading alone {min(alone):.1f} s)")


def peak_mb(path: Path) -> float:
    """Peak memory of a process that does nothing but extract."""
    code = (
        "import sys, resource; from pathlib import Path; from tests.benchmarks.bench_streaming import extracted;"
        "extracted(Path(sys.argv[1])); print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss)"
    )
    done = subprocess.run([sys.executable, "-c", code, str(path)], capture_output=True, text=True, check=True)
    return int(done.stdout) / (1024.0**2 if sys.platform == "darwin" else 1024.0)


def main() -> None:
    import cv2

    cv2.setNumThreads(1)
    folder = Path(sys.argv[1])
    long = int(sys.argv[2]) if len(sys.argv) > 2 else 32_400
    print(f"{'':<66} {'measured':>8} {'target':>8}")
    bench_memory(400)
    for name in ("short.npy", "short.tiff", "short.raw"):
        path = folder / name
        write(path, SHORT)
        bench_cached(path)
        path.unlink()
    for name in ("long.npy", "long.tiff"):
        path = folder / name
        write(path, long)
        bench_uncached(path, long)
        line(f"{path.suffix[1:]}, peak memory of {long} frames [MB]", peak_mb(path), 600.0)
        path.unlink()


if __name__ == "__main__":
    main()
