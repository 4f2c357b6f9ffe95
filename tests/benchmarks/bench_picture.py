"""A frame with its picture: cold ``irspot measure -o DIR`` against a script that does the same with common libraries.

The script reads the TIFF with tifffile, takes every zone's maximum, mean and place with scikit-image and draws the
1920 x 1080 picture with matplotlib (Agg): frame, outlines, a ring and a text per zone, a colour bar. Then, within one
process: what planning, drawing and packing cost by themselves.

Run by hand:  python tests/benchmarks/bench_picture.py
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))
from tests.benchmarks.bench_process import best_of, write_inputs
from tests.rendering.scenes import CAPTION, board_of, placed, readings_of, warm_frame

REPEATS = 9
SCRIPT = Path(__file__).with_name("picture_by_common_libraries.py")


def best_ms(work: Callable[[], object], repeats: int = 12) -> float:
    """Best time of a call, ms."""
    times = []
    for _ in range(repeats):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return min(times) * 1e3


def whole_process(folder: Path) -> None:
    """Print our command against the script."""
    command = write_inputs(folder)
    ours = [*command, "-o", str(folder / "ours")]
    theirs = [sys.executable, str(SCRIPT), str(folder / "frame.tiff"), str(folder / "theirs.png")]
    (time_ours, peak_ours), (time_theirs, peak_theirs) = best_of(ours, theirs, repeats=REPEATS)
    print(
        f"irspot measure -o DIR, 24 zones  {time_ours * 1e3:6.0f} ms  against {time_theirs * 1e3:6.0f} ms"
        f"   ratio {time_ours / time_theirs:5.2f} (target 0.4)   peak {peak_ours:4.0f} / {peak_theirs:4.0f} MB"
    )


def drawing_alone(size: tuple[int, int], count: int) -> None:
    """Print what a picture costs in a running process, and in a new one that has loaded nothing yet."""
    from irspot.rendering import heat_picture

    shape = (512, 640)
    degc, board, placement = warm_frame(shape), board_of(count), placed(shape)
    readings = readings_of(board, placement)

    def drawn() -> bytes:
        picture = heat_picture(degc, board, placement, readings, caption=CAPTION, scale_degc=(20.0, 90.0), size=size)
        return picture.png_bytes()

    target = "(target 250 ms)" if size == (1920, 1080) else ""
    print(f"drawing and PNG, {size[0]} x {size[1]}, {count:3d} zones, warm {best_ms(drawn):6.0f} ms {target}")


FIRST = """
import time
import numpy, cv2
from tests.rendering.scenes import CAPTION, board_of, placed, readings_of, warm_frame
degc, board, placement = warm_frame((512, 640)), board_of(24), placed((512, 640))
readings = readings_of(board, placement)
start = time.perf_counter()
from irspot.rendering import heat_picture
heat_picture(degc, board, placement, readings, caption=CAPTION, scale_degc=(20.0, 90.0)).png_bytes()
print((time.perf_counter() - start) * 1e3)
"""


def first_picture() -> None:
    """Print what the first picture of a process costs, Pillow's import and the fonts included."""
    root = Path(__file__).resolve().parents[2]
    runs = [
        float(
            subprocess.run([sys.executable, "-c", FIRST], cwd=root, capture_output=True, check=True, text=True).stdout
        )
        for _ in range(REPEATS)
    ]
    print(f"drawing and PNG, 1920 x 1080,  24 zones, first {min(runs):5.0f} ms (target 250 ms)")


def main() -> None:
    """Print the table."""
    # Whole processes first: a child's peak memory counts from its parent's size.
    with tempfile.TemporaryDirectory() as folder:
        whole_process(Path(folder))
    for size, count in (((1920, 1080), 0), ((1920, 1080), 24), ((1920, 1080), 100), ((3840, 2160), 24)):
        drawing_alone(size, count)
    first_picture()


if __name__ == "__main__":
    main()
