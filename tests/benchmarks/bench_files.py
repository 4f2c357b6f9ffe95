"""What reading a board and a camera file costs a process that has numpy: imports and validation, cold.

Run by hand: ``python tests/benchmarks/bench_files.py``. Prints the medians of `ROUNDS` fresh processes each.
"""

from __future__ import annotations

import statistics
import subprocess
import sys
import tempfile
from pathlib import Path

ROUNDS = 15
TARGET_MS = 90.0
ZONES = 24

TIMED = """
import time
import numpy
start = time.perf_counter()
{body}
print((time.perf_counter() - start) * 1e3)
"""

READ = """
from irspot.files import read_board, read_camera
board = read_board({board!r})
camera = read_camera({camera!r})
assert len(board.zones) == {zones}
"""

CORE = "import pydantic_core"

MODEL = """
from pydantic import BaseModel, ConfigDict
class Site(BaseModel):
    model_config = ConfigDict(defer_build=True, extra="forbid", strict=True)
    x_mm: float
Site.model_validate(dict(x_mm=1.0))
"""


def board_text() -> str:
    zones = ""
    for i in range(ZONES):
        x, y = 10 + 30 * (i % 6), 10 + 40 * (i // 6)
        zones += f'[[zone]]\nid = "z{i}"\nrole = "power-stage"\nrect_mm = [{x}, {y}, 22, 31]\nemissivity = 0.93\n'
        zones += f"exclude = [{{ circle_mm = [{x + 5}, {y + 10}, 2] }}]\n"
    return f'schema = 1\nname = "Board of the benchmark"\n[outline]\nwidth_mm = 244\nheight_mm = 305\n{zones}'


CAMERA = (
    'schema = 1\n[signal]\nunit = "K"\nscale = 0.01\n[band]\nlower_um = 8\nupper_um = 14\n[accuracy]\nlimit_k = 2.0\n'
)


def median_ms(body: str) -> float:
    command = [sys.executable, "-c", TIMED.format(body=body)]
    times = [float(subprocess.run(command, check=True, capture_output=True, text=True).stdout) for _ in range(ROUNDS)]
    return statistics.median(times)


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        board, camera = Path(folder, "board.toml"), Path(folder, "camera.toml")
        board.write_text(board_text(), encoding="utf-8")
        camera.write_text(CAMERA, encoding="utf-8")
        read = median_ms(READ.format(board=str(board), camera=str(camera), zones=ZONES))
    print(f"{'what, above numpy':58}{'target ms':>10}{'measured':>10}")
    print(f"{f'read a board of {ZONES} zones and a camera':58}{TARGET_MS:10.0f}{read:10.1f}")
    print(f"{'of which importing pydantic-core':58}{'':10}{median_ms(CORE):10.1f}")
    print(f"{'for comparison: one pydantic model of one field, used once':58}{'':10}{median_ms(MODEL):10.1f}")


if __name__ == "__main__":
    main()
