"""Whole processes, cold: ``irspot measure`` and ``irspot --help`` against bare ones that load the same libraries.

Run by hand:  python tests/benchmarks/bench_process.py
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))
from tests.tiny import CAMERA, write_tiff

ROWS, COLUMNS, REPEATS = 512, 640, 15

BARE = """
import numpy, cv2
data = open({frame!r}, 'rb').read()
frame = cv2.imdecode(numpy.frombuffer(data, numpy.uint8), cv2.IMREAD_UNCHANGED)
assert frame.shape == (512, 640)
"""


def write_board(path: Path) -> None:
    """24 zones on a 244 x 200 mm board."""
    corners = [(8 + 38 * (i % 6), 8 + 46 * (i // 6)) for i in range(24)]
    zones = [
        f'[[zone]]\nid = "z{i}"\nrole = "r"\nemissivity = 0.93\nrect_mm = [{x}, {y}, 30, 36]\n'
        for i, (x, y) in enumerate(corners)
    ]
    path.write_text(
        'schema = 1\nname = "Bench board (invented)"\n[outline]\nwidth_mm = 244.0\nheight_mm = 200.0\n'
        + "".join(zones),
        encoding="utf-8",
    )


def write_inputs(folder: Path) -> list[str]:
    """A 640 x 512 frame, camera and board; returns the command."""
    rng = np.random.default_rng(1)
    y, x = np.mgrid[0:ROWS, 0:COLUMNS]
    degc = (
        25.0
        + 50.0 * np.exp(-(((x - 250) / 160.0) ** 2) - ((y - 200) / 120.0) ** 2)
        + rng.normal(0, 0.05, (ROWS, COLUMNS))
    )
    write_tiff(folder / "frame.tiff", degc)
    (folder / "camera.toml").write_text(CAMERA, encoding="utf-8")
    write_board(folder / "board.toml")
    corners = "60,470 580,480 570,50 70,40"
    return [
        str(Path(sys.executable).with_name("irspot")),
        *("measure", str(folder / "frame.tiff"), "--board", str(folder / "board.toml")),
        *("--camera", str(folder / "camera.toml"), "--corners-px", corners, "--top", "up", "--ambient-degc", "21"),
    ]


def best_of(*commands: list[str], repeats: int = REPEATS) -> list[tuple[float, float]]:
    """Best wall time in s and peak memory in MB of whole processes, run in turns so that a busy machine is fair."""
    for command in commands:  # not counted: it may compile modules
        run(command)
    rounds = [[run(command) for command in commands] for _ in range(repeats)]
    return [(min(seconds for seconds, _ in each), max(peak for _, peak in each)) for each in zip(*rounds, strict=True)]


def run(command: list[str]) -> tuple[float, float]:
    """Wall time in s and peak memory in MB of one process."""
    # Compiled modules are kept, as on any user's machine.
    environment = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    start = time.perf_counter()
    with subprocess.Popen(command, stdout=subprocess.DEVNULL, env=environment) as process:
        _, status, usage = os.wait4(process.pid, 0)
        process.returncode = os.waitstatus_to_exitcode(status)
    assert process.returncode == 0, command
    return time.perf_counter() - start, usage.ru_maxrss / 1024.0


def compare(name: str, ours: list[str], bare: list[str], target: float) -> None:
    """Print one line of the table."""
    (time_ours, peak_ours), (time_bare, peak_bare) = best_of(ours, bare)
    print(
        f"{name:<34} {time_ours * 1e3:7.0f} ms  against {time_bare * 1e3:6.0f} ms   ratio {time_ours / time_bare:5.2f}"
        f" (target {target})   peak {peak_ours:4.0f} / {peak_bare:4.0f} MB = {peak_ours / peak_bare:4.2f}"
    )


def main() -> None:
    """Print the table."""
    with tempfile.TemporaryDirectory() as folder:
        measure = write_inputs(Path(folder))
        bare = [sys.executable, "-c", BARE.format(frame=str(Path(folder) / "frame.tiff"))]
        compare("irspot measure, 24 zones", measure, bare, 2.0)
        compare("irspot --help", [measure[0], "--help"], [sys.executable, "-c", "import click"], 2.0)


if __name__ == "__main__":
    main()
